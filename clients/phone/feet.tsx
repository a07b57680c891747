// My feet: the walk that goes and in how many beats I am there, or the one that comes and in how many it begins; and at
// places the mark on which I stand.
import { feetOf, marksOf, walksIn, wayOf, type Feet } from '../core/feet';
import type { View } from '../core/model';
import { titled } from '../core/names';
import { runOf } from '../core/reading';
import type { FeetView } from '../core/wire';
import { words } from '../core/words';
import { Fit } from './slab';
import { When } from './when';

/** The largest letters of a walk, pixels. */
const WAY = 24;

/** The walks of who plays `part` at the cue on the screen; nothing while none goes and none comes soon. */
export function walksNow(view: View, part: string): Feet | null {
  const run = runOf(view);
  if (run === null || !walksIn(run, part)) return null;
  const feet = feetOf(view, part);
  return feet.now === null && feet.next === null ? null : feet;
}

/** One walk, large enough to be read while walking. */
export function MyFeet({ feet: { now, next } }: { feet: Feet }) {
  const shown = now ?? next;
  if (shown === null) return null;
  const way = wayOf(shown.walk);
  return (
    <section class="my-feet" aria-label={words.feet.name} data-due={now !== null}>
      <Soles />
      {now === null && <When beats={shown.beats} />}
      <Fit class="way" most={WAY} words={way}>
        <p dir="auto">
          <b>{way}</b>
          {now !== null && <span>, {words.feet.there(now.beats)}</span>}
        </p>
      </Fit>
    </section>
  );
}

/** Where I stand before the first beat: read before ready is said. Nothing where the score does not say. */
export function MyMark({ view }: { view: View }) {
  const mark = marks(view).find(({ who }) => who === view.me?.part);
  return mark === undefined ? null : <p class="lead my-mark">{words.feet.mark(wayOf(mark))}</p>;
}

/** Where the others stand. */
export function TheirMarks({ view }: { view: View }) {
  const theirs = marks(view).filter(({ who }) => who !== view.me?.part);
  if (theirs.length === 0) return null;
  return (
    <ul class="marks">
      {theirs.map((mark) => (
        <li key={mark.who} dir="auto">
          {words.feet.theirMark(titled(mark.who), wayOf(mark))}
        </li>
      ))}
    </ul>
  );
}

function marks(view: View): FeetView[] {
  const run = runOf(view);
  return run === null ? [] : marksOf(run, view.me?.part ?? null);
}

function Soles() {
  return (
    <svg class="soles" viewBox="0 0 24 24" aria-hidden="true">
      <path d="M4 8a3 4 0 0 1 6 0l-1 7H5zM5 17h4v2a2 2 0 0 1-4 0zM14 5a3 4 0 0 1 6 0l-1 7h-4zM15 14h4v2a2 2 0 0 1-4 0z" />
    </svg>
  );
}
