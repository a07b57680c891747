// What a phone shows while beats count. Who acts: the beat, the seat of their own act, and what comes after it. Who looks
// on: every pair that acts, equal acts said once, and the one pair that they follow.
import type { View } from '../core/model';
import { runOf, stageOf } from '../core/reading';
import { walksIn } from '../core/feet';
import { standsBy } from '../core/near';
import { seatOf, type Coming, type Seat } from '../core/seat';
import type { RunSheet } from '../core/wire';
import { words } from '../core/words';
import { Beats } from '../ui/beats';
import { Figure } from '../ui/figure';
import { PlanNow, usePlanShown } from '../ui/plan-fold';
import { Stop } from '../ui/powers';
import type { PhonePage } from './carried';
import { MyFeet, walksNow } from './feet';
import { followed } from './following';
import { Groups } from './groups';
import { Fit, mine, Slab, theirs } from './slab';
import { StandsBy } from './standing-by';
import { When } from './when';

/** The largest letters of what comes next, and of what comes then, pixels. */
const NEXT = 34;
const THEN = 20;

/** The counting screen. It has a fixed frame, so that nothing moves when the words change. */
export function Counting({ view, page }: { view: View; page: PhonePage }) {
  const { session, choices } = page;
  const looksOn = view.me?.role !== 'performer' || view.me.part === null;
  const fighters = view.run?.fighters ?? [];
  const follows = looksOn && followed.value !== null && fighters.includes(followed.value) ? followed.value : null;
  const part = looksOn ? follows : (view.me?.part ?? null);
  const shown = view.shown;
  const counts = stageOf(view) === 'count-in';
  const run = runOf(view);
  const walks = run !== null && part !== null && follows === null && walksIn(run, part);
  const plan = usePlanShown(choices, view.me?.role === 'captain') && run?.floor != null;
  return (
    <div class="counting" data-counts-in={counts} data-looks-on={looksOn} data-walks={walks} data-plan={plan}>
      {shown !== null && view.run !== null && (
        <Beats run={view.run} cue={shown.cue} part={part} late_us={shown.late_us} />
      )}
      {view.me?.role === 'captain' && (
        <div class="stop">
          <Stop view={view} session={session} />
        </div>
      )}
      {part === null ? (
        <Groups view={view} />
      ) : run !== null && standsBy(run, part) ? (
        <StandsBy view={view} part={part} />
      ) : (
        <Own view={view} part={part} follows={follows} />
      )}
      {plan && (
        <div class="plan-row">
          <PlanNow {...{ view, session, choices, part }} personalKey={page.key} small />
        </div>
      )}
    </div>
  );
}

// What one person does; and, where that is somebody who is followed, what everybody does below it.
function Own({ view, part, follows }: { view: View; part: string; follows: string | null }) {
  const seat = seatOf(view, part);
  return (
    <>
      {seat.in === null ? <p class="nothing">{words.nothingNext}</p> : <Slab seat={seat} sheet={view.run} />}
      {follows === null ? <After seat={seat} view={view} part={part} /> : <Groups view={view} follows={follows} />}
    </>
  );
}

// My feet stand where the third act stands, while they are on their way or soon will be.
function After({ seat: { next, then }, view, part }: { seat: Seat; view: View; part: string }) {
  const feet = walksNow(view, part);
  return (
    <>
      <section class="next" aria-label={words.next}>
        {next !== null && <Next coming={next} sheet={view.run} />}
      </section>
      {feet !== null ? <MyFeet feet={feet} /> : <div class="then">{then !== null && <Then coming={then} />}</div>}
    </>
  );
}

function Next({ coming, sheet }: { coming: Coming; sheet: RunSheet | null }) {
  const [first] = coming.moves;
  if (first === undefined) return null;
  return (
    <>
      <When beats={coming.beats} />
      <Figure sheet={sheet} move={first.move} part={first.part} near />
      <Fit class="line" most={NEXT} words={said(coming)}>
        {coming.moves.map((each, n) => (
          <p key={n} dir="auto">
            <b class="mine">{mine(each)}</b> <span>{theirs(each).join(' ')}</span>
          </p>
        ))}
      </Fit>
    </>
  );
}

function Then({ coming }: { coming: Coming }) {
  return (
    <>
      <When beats={coming.beats} />
      <Fit class="line" most={THEN} words={said(coming)}>
        <p dir="auto">
          {coming.moves.map((each, n) => (
            <span key={n}>
              <b>{mine(each)}</b> {theirs(each).join(' ')}{' '}
            </span>
          ))}
        </p>
      </Fit>
    </>
  );
}

const said = ({ moves }: Coming): string => moves.map((each) => `${mine(each)} ${theirs(each).join(' ')}`).join();
