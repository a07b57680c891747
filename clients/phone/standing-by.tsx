// The phone of who only stands by: what passes near them and in how many beats, and when they walk.
import type { View } from '../core/model';
import { titled } from '../core/names';
import { nearestOf, passingOf, standsBy, type Passing } from '../core/near';
import { runOf } from '../core/reading';
import type { NearView } from '../core/wire';
import { words } from '../core/words/standing-by';
import { MyFeet, walksNow } from './feet';
import { Fit } from './slab';
import { When } from './when';

/** The largest letters of what passes next, and of what passes then, pixels. */
const FIRST = 40;
const THEN = 26;

/** What passes near, in words. */
export function passes({ by, action, metres, side }: NearView): string {
  return words.standingBy.passes(titled(by), action, metres, side);
}

/** The counting screen of who stands by. */
export function StandsBy({ view, part }: { view: View; part: string }) {
  const [first, second] = passingOf(view, part);
  const feet = walksNow(view, part);
  return (
    <>
      {first === undefined ? (
        <p class="nothing">{words.standingBy.nothing}</p>
      ) : (
        <section class="nearing" aria-label={words.standingBy.name} data-due={first.beats === 0}>
          <Passes passing={first} most={FIRST} />
        </section>
      )}
      <section class="next" aria-label={words.next}>
        {second !== undefined && <Passes passing={second} most={THEN} />}
      </section>
      {feet === null ? <div class="then" /> : <MyFeet feet={feet} />}
    </>
  );
}

function Passes({ passing: { near, beats }, most }: { passing: Passing; most: number }) {
  const says = passes(near);
  return (
    <>
      {beats === 0 ? <p class="when">{words.now}</p> : <When beats={beats} />}
      <Fit class="line" most={most} words={says}>
        <p dir="auto">{says}</p>
      </Fit>
    </>
  );
}

/** Before the first beat: how often something passes, and what comes nearest; and that nobody waits for them. Nothing for
 * who fights. */
export function BeforeStandingBy({ view }: { view: View }) {
  const run = runOf(view);
  const part = view.me?.part ?? null;
  if (run === null || part === null || !standsBy(run, part)) return null;
  const all = nearestOf(run, part);
  const [nearest] = all;
  const { standingBy } = words;
  const phraseOf = ({ phrase }: NearView): string => run.phrases.find((each) => each.phrase === phrase)?.name ?? '';
  return (
    <section class="card standing-by">
      <p>
        {nearest === undefined
          ? standingBy.nothingAtAll
          : standingBy.nearest(all.length, phraseOf(nearest), nearest.beat, passes(nearest))}
      </p>
      <p class="caution">{standingBy.planned}</p>
      <p>{standingBy.notWaitedFor}</p>
    </section>
  );
}
