// The sound page. HOLD, link and clock come up first; the drawn part is fetched after them, so that it cannot keep them
// away, whatever is wrong with it.
import { bringUp, sayFault } from '../core/page';

/** The key that holds, from anywhere on the page: the same as at the desk. */
const HOLD_KEY = 'Escape';

const page = bringUp({
  fits: (role) => role === 'sound' || role === 'desk',
  shows: () => ['fights', 'troubles', 'why'],
  holdKey: HOLD_KEY,
  carried: null,
});
if (page !== null) {
  page.spoken
    .then(() => import('./drawn'))
    .then(({ draw }) => draw(page))
    .catch((fault: unknown) => sayFault(fault));
}
