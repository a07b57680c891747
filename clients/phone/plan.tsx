// The run on the plan while nothing counts: at places how it begins, in a hold and afterwards where it stands. Behind a fold;
// whether it is there while beats count is chosen beside it.
import type { View } from '../core/model';
import { words } from '../core/words';
import { Fold } from '../ui/later';
import type { PhonePage } from './carried';

/** The picture, folded; nothing for a run whose stage is not known. */
export function Plan({ view, page }: { view: View; page: PhonePage }) {
  if (view.run?.floor == null) return null;
  const { session, choices } = page;
  return (
    <Fold class="plan-now" summary={words.onThePlan} load={() => import('../ui/plan-live')}>
      {({ LivePlan }) => (
        <LivePlan {...{ view, session, choices }} personalKey={page.key} part={view.me?.part ?? null} chooses />
      )}
    </Fold>
  );
}
