// How fast something can safely go, in words.
import type { SafeTempo } from '../core/wire';
import { words } from '../core/words/score';

/** A planned limit of tempo, or that none was found. */
export const safeTo = (safe: SafeTempo | null): string =>
  safe === null ? words.score.safeAny : words.score.safeTo(Math.floor(safe.bpm), safe.percent);
