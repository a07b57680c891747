// What stands in the seat of one's own act, and what comes after it. There is one seat: it counts down to the act, turns
// solid on its beat, and keeps it until it is over.
import type { View } from './model';
import { barOf, partIn, runOf, stepped, tickOf } from './reading';
import { usAt } from './tempo';
import { TICKS_PER_BEAT, type Cue, type CueMove, type RunSheet } from './wire';

/** Acts nearer to each other than this stay solid, so that the seat turns solid at most twice a second. Microseconds. */
export const STAYS_SOLID_US = 500_000;

/** All moves of a reader at one moment, never none. */
export interface Moment {
  at: number;
  moves: CueMove[];
}

/** A moment that comes, and in how many beats, rounded up; nothing while no cue has said where the run is. */
export interface Coming extends Moment {
  beats: number | null;
}

/** The seat. */
export interface Seat {
  /** What is in it; nothing once nothing more comes. */
  in: Moment | null;
  /** True on the beat, and until it is over. */
  due: boolean;
  /** Beats to it while it is coming. */
  beats: number | null;
  next: Coming | null;
  then: Coming | null;
}

/** The moments of a reader in a run: of who plays `part` their own, of whoever looks on everybody's. */
export function momentsOf(run: RunSheet, part: string | null): Moment[] {
  const moments: Moment[] = [];
  for (const move of run.moves) {
    const mine = partIn(move, part);
    if (part !== null && mine === 'watch') continue;
    const last = moments.at(-1);
    if (last?.at === move.at_ticks) last.moves.push({ part: mine, move });
    else moments.push({ at: move.at_ticks, moves: [{ part: mine, move }] });
  }
  return moments;
}

/** The seat of a view, for who plays `part`; for whoever looks on (nothing) that of everybody's acts. */
export function seatOf(view: View, part: string | null): Seat {
  const run = runOf(view);
  const cue = view.shown?.cue ?? null;
  if (run === null) return { in: null, due: false, beats: null, next: null, then: null };
  const at = cue === null ? null : tickOf(run, cue);
  const moments = momentsOf(run, part);
  const late = (moment: Moment): Coming => ({
    ...moment,
    beats: at === null ? null : Math.ceil((moment.at - at) / TICKS_PER_BEAT - 1e-6),
  });
  const coming = moments.filter((moment) => at === null || moment.at > at);
  const last = at === null ? undefined : moments.findLast((moment) => moment.at <= at);
  const [first, second, third] = coming.map(late);
  if (last !== undefined && at !== null && stays(run, last, first, at, stepped(view)))
    return { in: last, due: true, beats: null, next: first ?? null, then: second ?? null };
  return { in: first ?? null, due: false, beats: first?.beats ?? null, next: second ?? null, then: third ?? null };
}

// It is over a beat later; and where the next one follows within half a second the seat does not go out in between.
function stays(run: RunSheet, last: Moment, next: Moment | undefined, at: number, steps: boolean): boolean {
  if (last.at === at) return true;
  if (steps) return false;
  if (at - last.at < TICKS_PER_BEAT) return true;
  return next !== undefined && usAt(run, next.at) - usAt(run, last.at) < STAYS_SOLID_US;
}

/** A cell of the beat: one beat of the bar that goes or of the next. */
export interface Cell {
  at: number;
  /** True for the first of a bar. */
  first: boolean;
  state: 'gone' | 'now' | 'coming';
}

/** The beats of two bars, from the beginning of the one that goes. Bars begin again with each phrase. */
export function cellsOf(run: RunSheet, cue: Cue): Cell[] {
  const start = barOf(run, cue);
  const now = start + (cue.count - 1) * TICKS_PER_BEAT;
  const cells: Cell[] = [];
  let [at, beat] = [start, 0];
  while (cells.length < 2 * run.beats_per_bar && at < run.length_ticks) {
    const begins = run.phrases.find(
      (phrase) => phrase.at_ticks > at - TICKS_PER_BEAT && phrase.at_ticks <= at && at !== start,
    );
    if (begins !== undefined) [at, beat] = [begins.at_ticks, 0];
    const state = at < now ? 'gone' : at === now ? 'now' : 'coming';
    cells.push({ at, first: beat % run.beats_per_bar === 0, state });
    at += TICKS_PER_BEAT;
    beat += 1;
  }
  return cells;
}
