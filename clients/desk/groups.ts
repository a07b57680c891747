// Equal acts are said once, with a number: thirty people who do the same thing are one thing to look at.
import type { Cue, MoveView } from '../core/wire';
import { TICKS_PER_BEAT } from '../core/wire';

/** What several do alike: the same act, answered the same way. */
export interface Group {
  action: string;
  reply: string | null;
  /** Never empty. */
  moves: MoveView[];
}

/** The groups of some moves, the largest first; of equal ones, the one that is written first. */
export function groupsOf(moves: readonly MoveView[]): Group[] {
  const groups = new Map<string, Group>();
  for (const move of moves) {
    const { action, reply } = move;
    const name = JSON.stringify([action, reply]);
    const group = groups.get(name);
    if (group === undefined) groups.set(name, { action, reply, moves: [move] });
    else group.moves.push(move);
  }
  return [...groups.values()].sort((a, b) => b.moves.length - a.moves.length);
}

/** A beat on which something comes, and how many whole beats away it is, rounded up; nothing before the run begins. */
export interface ComingBeat {
  beats: number | null;
  /** As the score writes it. */
  beat: string;
  moves: MoveView[];
}

/** The next beats with moves after a cue, at the most so many; the first ones of the run where there is no cue yet. */
export function comingBeats(moves: readonly MoveView[], cue: Cue | null, most: number): ComingBeat[] {
  const first = cue === null ? -Infinity : (cue.next[0]?.move.at_ticks ?? Infinity);
  const now = cue === null ? null : first - (cue.next_in_beats ?? 0) * TICKS_PER_BEAT;
  const found: ComingBeat[] = [];
  let at: number | null = null;
  for (const move of moves) {
    if (move.at_ticks < first) continue;
    if (move.at_ticks !== at) {
      if (found.length === most) break;
      const beats = now === null ? null : Math.ceil((move.at_ticks - now) / TICKS_PER_BEAT - 1e-6);
      found.push({ beats, beat: move.beat, moves: [] });
      at = move.at_ticks;
    }
    found.at(-1)?.moves.push(move);
  }
  return found;
}
