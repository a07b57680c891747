// Equal acts of one moment, said once with a number. Whoever looks on sees every pair that acts.
import type { MoveView } from './wire';

/** Acts that are the same but for who does them. */
export interface Alike {
  /** What tells them from others. */
  key: string;
  moves: [MoveView, ...MoveView[]];
}

/** The moves of a moment by equal act, the most frequent first, otherwise in their order. */
export function alikeOf(moves: readonly MoveView[]): Alike[] {
  const groups = new Map<string, Alike>();
  for (const move of moves) {
    const key = [move.action, move.reply ?? '', move.to === null ? '' : '→'].join('/');
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { key, moves: [move] });
    else group.moves.push(move);
  }
  return [...groups.values()].sort((one, other) => other.moves.length - one.moves.length);
}
