// The phone page: a performer's, a captain's, or anybody's who follows. HOLD, link and clock come up first; the drawn part is fetched after
// them, so that it cannot keep them away, whatever is wrong with it.
import { browser } from '../core/browser';
import { Guard, mountGuard } from '../core/guard';
import { bringUp, sayFault } from '../core/page';
import { DeviceSenses } from '../core/senses';

const senses = new DeviceSenses(browser);

// A performer's own part is on every page, so a phone that performs is told of nobody else. Whoever has called a hold is
// asked why, and everybody reads tonight's order. The captain writes notes to
// the last hold; whoever does not perform sees who is missing.
const page = bringUp({
  fits: (role) => role !== 'desk',
  shows: (role) =>
    role === 'performer'
      ? ['why', 'tonight']
      : role === 'captain'
        ? ['missing', 'holds', 'why', 'tonight']
        : ['missing', 'why', 'tonight'],
  holdKey: null,
  carried: { senses, guard: new Guard(), mountGuard },
});
if (page !== null) {
  page.choices.listen((settings) => senses.follow(settings));
  senses.wakeByTouch();
  page.spoken
    .then(() => import('./drawn'))
    .then(({ draw }) => draw({ ...page, senses }))
    .catch((fault: unknown) => sayFault(fault));
}
