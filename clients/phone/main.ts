// The phone page: a performer's, a captain's, or anybody's who follows. HOLD, link and clock come up first; the drawn part is fetched after
// them, so that it cannot keep them away, whatever is wrong with it.
import { bringUp, sayFault } from '../core/page';

const page = bringUp({ fits: (role) => role !== 'desk', holdKey: null, pocket: true });
if (page !== null) {
  import('./drawn').then(({ draw }) => draw(page)).catch((fault: unknown) => sayFault(fault));
}
