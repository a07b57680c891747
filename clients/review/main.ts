// The review page. HOLD, link and clock come up first; the drawn part is fetched after them, so that it cannot keep them
// away, whatever is wrong with it. Everybody may read it.
import { lastingStore, tabStore } from '../core/browser';
import { Keys } from '../core/keys';
import { bringUp, sayFault } from '../core/page';

/** The key that holds, as at the desk: whoever reaches for it must not have to think which page this is. */
const HOLD_KEY = 'Escape';

// What is counted anew when it changes; whoever signs sees what there is to sign, and whoever saw a near miss what can be said of it.
const SHOWS = ['holds', 'checks', 'attendance', 'why'] as const;

const page = bringUp({
  fits: () => true,
  shows: (role) => (role === 'desk' ? [...SHOWS, 'roster'] : SHOWS),
  holdKey: HOLD_KEY,
  carried: null,
});
if (page !== null) {
  const entry = new Keys(lastingStore().store, tabStore()).mine(() => true);
  if (entry !== null) {
    page.spoken
      .then(() => import('./drawn'))
      .then(({ draw }) => draw(page, entry))
      .catch((fault: unknown) => sayFault(fault));
  }
}
