// My feet: the walk that goes and in how many beats I am there, or the one that comes and in how many it begins; and at
// places the mark on which I stand.
import { feetOf, marksOf, walksIn, wayOf, type Feet } from '../core/feet';
import type { View } from '../core/model';
import { titled } from '../core/names';
import { runOf } from '../core/reading';
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

/** Where everybody stands before the first beat, one's own mark first; nothing where the score does not say. */
export function Marks({ view }: { view: View }) {
  const run = runOf(view);
  const part = view.me?.part ?? null;
  const marks = run === null ? [] : marksOf(run, part);
  if (marks.length === 0) return null;
  const [first] = marks;
  const own = first !== undefined && first.who === part ? first : null;
  const others = marks.filter((mark) => mark !== own);
  return (
    <section class="card begin-at">
      {own !== null && <p class="lead">{words.feet.mark(wayOf(own))}</p>}
      <ul>
        {others.map((mark) => (
          <li key={mark.who} dir="auto">
            {words.feet.theirMark(titled(mark.who), wayOf(mark))}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Soles() {
  return (
    <svg class="soles" viewBox="0 0 24 24" aria-hidden="true">
      <path d="M4 8a3 4 0 0 1 6 0l-1 7H5zM5 17h4v2a2 2 0 0 1-4 0zM14 5a3 4 0 0 1 6 0l-1 7h-4zM15 14h4v2a2 2 0 0 1-4 0z" />
    </svg>
  );
}
