// The run on the plan: it moves on the shared clock, and only while this page can vouch for where the run is. It is drawn
// between two frames, when everything that is due has been done, and only while somebody can see it.
import { useEffect, useRef, useState } from 'preact/hooks';
import { secondsIn } from '../core/floor';
import { partnerAt, standingAt, type Still } from '../core/floor-place';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import type { Choices } from '../core/settings';
import { TICKS_PER_BEAT, type FloorSheet, type RunSheet } from '../core/wire';
import { words } from '../core/words/plan';
import { OneOf } from './choices';
import { useFloor } from './floors';
import { InWords, Nearest, Picture, SeenFrom, type Moved } from './plan-drawn';
import { useSeen } from './plan-seen';

const still = matchMedia('(prefers-reduced-motion: reduce)');

/** What the run's picture needs to know. */
export interface LivePlanProps {
  view: View;
  session: Session;
  choices: Choices;
  /** What the plan is asked for with. */
  personalKey: string;
  /** Whose it is; nothing for whoever looks on. */
  part: string | null;
  /** In a frame of a fixed size: the picture and why it stands still, nothing else. */
  small?: boolean;
  /** Whether it is there while something runs is chosen beside it. */
  chooses?: boolean;
}

/** The run's picture; nothing where no stage is known. */
export function LivePlan({ view, session, choices, personalKey, part, small = false, chooses = false }: LivePlanProps) {
  const { run } = view;
  const floor = useFloor(run?.floor ?? null, personalKey);
  if (run === null || floor === 'gone') return null;
  if (floor === null) return <p class="hint">{words.plan.coming}</p>;
  return <Moving key={`${run.run} ${run.floor}`} {...{ view, session, choices, part, small, chooses, run, floor }} />;
}

function Moving(props: Omit<LivePlanProps, 'personalKey'> & { small: boolean; run: RunSheet; floor: FloorSheet }) {
  const { session, choices, part, small, chooses, run, floor } = props;
  const seen = useSeen(choices);
  const place = useRef<HTMLDivElement>(null);
  const moved = useRef<Moved | null>(null);
  const [ticks, setTicks] = useState(0);
  const [why, setWhy] = useState<Still | null>('waits');
  useFrames(place, session, run, (at, stands) => {
    moved.current?.show(secondsIn(floor, run, at));
    // Once a beat at the most, what is said is said anew.
    setTicks(beatOf(at, run));
    setWhy(stands);
  });
  const at = secondsIn(floor, run, ticks);
  const reader = { part, partner: partnerAt(run.moves, part, ticks) };
  const said = why === null ? (still.matches ? words.plan.steps : null) : words.plan.still[why];
  return (
    <div class="plan-live" ref={place} data-still={why ?? 'no'} data-small={small}>
      <Picture
        {...{ floor, seen, reader, at }}
        close={small}
        name={run.fight}
        moves={(figures) => {
          moved.current = figures;
          figures.show(at);
        }}
      />
      <p class="plan-state" data-amiss={why === 'no-link' || why === 'no-clock' || why === 'unknown'} role="status">
        {said}
      </p>
      {!small && (
        <>
          <Nearest floor={floor} from={secondsIn(floor, run, 0)} until={at} />
          <SeenFrom seen={seen} choose={(to) => choices.choose({ seen: to })} />
          {chooses && <WhileItRuns choices={choices} />}
          <InWords {...{ floor, reader, at }} />
        </>
      )}
    </div>
  );
}

// What this device does with it in a run.
function WhileItRuns({ choices }: { choices: Choices }) {
  const [plan, setPlan] = useState(choices.now.plan);
  useEffect(() => choices.listen((settings) => setPlan(settings.plan)), [choices]);
  return (
    <OneOf
      label={words.plan.now}
      names={words.plan.nowOf}
      chosen={plan}
      choose={(chosen) => choices.choose({ plan: chosen })}
    />
  );
}

// Asks at every frame where the run is, while the picture is in sight.
function useFrames(
  place: { current: HTMLElement | null },
  session: Session,
  run: RunSheet,
  show: (ticks: number, why: Still | null) => void,
): void {
  const showing = useRef(show);
  showing.current = show;
  useEffect(() => {
    let frame = 0;
    let last: number | null = null;
    const draw = (): void => {
      const { ticks, first, still: why } = standingAt(session.view, session.serverNowUs());
      if (ticks !== null && (!first || last === null)) last = ticks;
      const at = last ?? 0;
      showing.current(why === null && still.matches ? beatOf(at, run) : at, why);
      frame = requestAnimationFrame(draw);
    };
    const sight = new IntersectionObserver(([entry]) => {
      cancelAnimationFrame(frame);
      if (entry?.isIntersecting === true) frame = requestAnimationFrame(draw);
    });
    if (place.current !== null) sight.observe(place.current);
    return () => {
      sight.disconnect();
      cancelAnimationFrame(frame);
    };
  }, [session, run]);
}

/** The beat that a place lies in, ticks. */
function beatOf(ticks: number, run: RunSheet): number {
  return Math.min(Math.floor(ticks / TICKS_PER_BEAT) * TICKS_PER_BEAT, run.length_ticks);
}
