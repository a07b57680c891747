// Where a run's picture stands on the plan, and why it does not move. Pure. What a page cannot vouch for does not move: no link,
// no clock, one's own HOLD that nobody has answered yet.
import type { View } from './model';
import { moveAt, stageOf, stepped, tickOf } from './reading';
import { beatsAt } from './tempo';
import { TICKS_PER_BEAT, type MoveView, type RunSheet } from './wire';

/** Why a picture stands still. */
export type Still =
  'no-link' | 'unknown' | 'no-clock' | 'held' | 'stopped' | 'complete' | 'waits' | 'count-in' | 'step';

/** Where it is. */
export interface Standing {
  /** Ticks from the first beat of the run; nothing leaves it where it is. */
  ticks: number | null;
  /** True where those ticks are only for a page that has drawn nothing of this run yet. */
  first: boolean;
  still: Still | null;
}

/** Where the picture of the run stands at a moment of the server's clock. */
export function standingAt(view: View, serverNowUs: number | null): Standing {
  const { run } = view;
  const stays = (still: Still, ticks: number | null = null): Standing => ({ ticks, first: true, still });
  const at = (ticks: number, still: Still | null): Standing => ({ ticks, first: false, still });
  if (run === null || view.link !== 'linked') return stays('no-link');
  if (view.tap === 'sending' || view.tap === 'untold') return stays('held');
  const stage = stageOf(view);
  switch (stage) {
    case null:
      return stays('unknown');
    case 'held':
    case 'stopped':
      return stays(stage, spotTicks(run, view));
    case 'complete':
      return at(run.length_ticks, 'complete');
    case 'idle':
    case 'places':
      return at(0, 'waits');
    case 'count-in':
      return at(0, 'count-in');
    case 'running':
      return running(view, run, serverNowUs);
  }
}

function running(view: View, run: RunSheet, serverNowUs: number | null): Standing {
  if (stepped(view)) {
    const cue = view.shown?.cue ?? null;
    return { ticks: cue === null ? 0 : tickOf(run, cue), first: cue === null, still: 'step' };
  }
  const beats = serverNowUs === null ? null : beatsAt(run, serverNowUs);
  if (beats === null) return { ticks: null, first: true, still: 'no-clock' };
  return { ticks: Math.min(Math.max(beats * TICKS_PER_BEAT, 0), run.length_ticks), first: false, still: null };
}

function spotTicks(run: RunSheet, view: View): number {
  return moveAt(run, view.state?.hold?.spot ?? view.state?.spot ?? null)?.at_ticks ?? 0;
}

/** Who is in the next move with whoever plays `part`, or in the one that goes; nothing where they do nothing more. */
export function partnerAt(moves: readonly MoveView[], part: string | null, ticks: number): string | null {
  const mine = moves.find((move) => move.at_ticks >= ticks - TICKS_PER_BEAT && (move.who === part || move.to === part));
  if (part === null || mine === undefined) return null;
  return mine.who === part ? mine.to : mine.who;
}
