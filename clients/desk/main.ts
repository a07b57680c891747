// The desk page. HOLD, link and clock come up first; the drawn part is fetched after
// them, so that it cannot keep them away, whatever is wrong with it.
import { bringUp, sayFault } from '../core/page';

/** The key that holds, from anywhere on the page: in the corner of every keyboard, and no letter of any word. */
const HOLD_KEY = 'Escape';

/** The whole call on one screen. */
const SHOWS = [
  'roster',
  'devices',
  'holds',
  'fights',
  'troubles',
  'checks',
  'attendance',
  'missing',
  'why',
  'near-misses',
  'tonight',
  'casts',
] as const;

const page = bringUp({ fits: (role) => role === 'desk', shows: () => SHOWS, holdKey: HOLD_KEY, carried: null });
if (page !== null) {
  page.spoken
    .then(() => import('./drawn'))
    .then(({ draw }) => draw(page))
    .catch((fault: unknown) => sayFault(fault));
}
