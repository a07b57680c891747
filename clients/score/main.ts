// The score page. HOLD, link and clock come up first; the drawn part is fetched after them, so that it cannot keep them
// away, whatever is wrong with it. Everybody may read here; who may write is the server's to say.
import { lastingStore, tabStore } from '../core/browser';
import { Keys } from '../core/keys';
import { bringUp, sayFault } from '../core/page';

/** The key that holds, as at the desk: whoever reaches for it must not have to think which page this is. */
const HOLD_KEY = 'Escape';

const page = bringUp({ fits: () => true, shows: () => ['why'], holdKey: HOLD_KEY, carried: null });
if (page !== null) {
  const { store } = lastingStore();
  const entry = new Keys(store, tabStore()).mine(() => true);
  if (entry !== null) {
    page.spoken
      .then(() => import('./drawn'))
      .then(({ draw }) => draw(page, entry, store))
      .catch((fault: unknown) => sayFault(fault));
  }
}
