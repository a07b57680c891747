// The plan of the stage on a page where something runs: whether it is shown there is this device's choice; it is fetched when
// it is, and nothing waits for it.
import { useEffect, useState } from 'preact/hooks';
import type { Choices } from '../core/settings';
import { words } from '../core/words';
import { Later } from './later';
import type { LivePlanProps } from './plan-live';

/** True where this device shows the plan while something runs; `usual` is what its page does unless something else was chosen. */
export function usePlanShown(choices: Choices, usual: boolean): boolean {
  const [plan, setPlan] = useState(choices.now.plan);
  useEffect(() => choices.listen((settings) => setPlan(settings.plan)), [choices]);
  return plan === 'auto' ? usual : plan === 'on';
}

/** The run's picture; nothing for a run whose stage is not known. */
export function PlanNow(props: LivePlanProps) {
  if (props.view.run?.floor == null) return null;
  return <Later load={() => import('./plan-live')}>{({ LivePlan }) => <LivePlan {...props} />}</Later>;
}

/** The same, which can be put away; this device keeps it so. */
export function FoldedPlan({ usual, ...props }: LivePlanProps & { usual: boolean }) {
  const open = usePlanShown(props.choices, usual);
  if (props.view.run?.floor == null) return null;
  return (
    <details
      class="plan-now"
      open={open}
      onToggle={(event) => {
        const now = event.currentTarget.open;
        if (now !== open) props.choices.choose({ plan: now ? 'on' : 'off' });
      }}
    >
      <summary>{words.onThePlan}</summary>
      {open && <PlanNow {...props} />}
    </details>
  );
}
