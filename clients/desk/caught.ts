// Which hold the desk looks at, and the move of the sheet at which it is.
import type { View } from '../core/model';
import { lastHold, moveAt, stageOf } from '../core/reading';
import type { HoldView, MoveView } from '../core/wire';

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

/** The move at which it is, the caller's own; nothing where the page has no sheet of that run, or nothing was reached. */
export function moveOf(hold: HoldView, view: View): MoveView | null {
  return view.run === null || hold.generation < view.run.generation ? null : moveAt(view.run, hold.spot);
}
