// Which moves were under way when a hold came: of every pair the last that they had begun in the phrase, as the log has it
// (`Run::under_way`), the caller's own first.
import type { View } from '../core/model';
import { lastHold, stageOf } from '../core/reading';
import type { HoldView, MemberView, MoveView, RunSheet, Spot } from '../core/wire';

/** The moves that were under way at a place of a run; those that `part` is in come first. */
export function underWay(moves: readonly MoveView[], spot: Spot, part: string | null): MoveView[] {
  const phrase = moves.filter((move) => move.phrase === spot.phrase);
  const reached = phrase.find((move) => move.number === spot.move);
  if (reached === undefined) return [];
  const begun = phrase.filter((move) => move.at_ticks <= reached.at_ticks);
  // Whoever has begun a later move is not in this one any more.
  const last = new Map<string, number>();
  for (const move of begun) for (const name of peopleOf(move)) last.set(name, move.at_ticks);
  const going = begun.filter((move) => peopleOf(move).every((name) => last.get(name) === move.at_ticks));
  const own = (move: MoveView): boolean => part !== null && peopleOf(move).includes(part);
  return [...going.filter(own), ...going.filter((move) => !own(move))];
}

/**
 * The hold that is looked at: the one that stands, and after its release the one that ended the run, so that a note in hand
 * stays in hand. None of an earlier run.
 */
export function caughtBy(view: View): HoldView | null {
  const stage = stageOf(view);
  if (stage === 'held') return view.state?.hold ?? null;
  const last = stage === 'stopped' ? lastHold(view) : null;
  return last !== null && (view.run === null || last.generation >= view.run.generation) ? last : null;
}

/** The same of a hold; nothing where the page has no sheet of that run, or nothing was reached. */
export function underWayAt(hold: HoldView, run: RunSheet | null, roster: readonly MemberView[]): MoveView[] {
  if (run === null || hold.spot === null || hold.generation < run.generation) return [];
  const caller = hold.callers[0]?.member ?? null;
  const part = roster.find(({ member }) => member === caller)?.part ?? null;
  return underWay(run.moves, hold.spot, part);
}

function peopleOf({ who, to }: MoveView): string[] {
  return to === null || to === who ? [who] : [who, to];
}
