// What a hand is to tell apart: a pattern for each thing that happens to it, and how a pattern is fitted into the time
// before one's next act. Pure.
//
// The kinds differ first in how many strokes they have (one, two, three) and then in how long a stroke is: about twice as
// long from each kind to the next. Three rhythms alone were told apart in 93 of 100 trials (Brown, Brewster, Purchase, "A
// First Investigation into the Effectiveness of Tactons", World Haptics 2005, abstract). Strokes come no faster than six a
// second, up to which they are counted alike whatever their order (Lechelt, "Pulse Number Discrimination in Tactile
// Spatio-Temporal Patterns", 1974, abstract). What is shorter than about 30 ms is a knock and no vibration
// (Remache-Vinueza, Trujillo-León, Vidal-Verdú, Scientific Reports 15:5057, 2025). How long a phone's motor takes to come
// up to speed is not published for most: tens of milliseconds, common practice, no source.
import type { Cue } from './wire';

/** What a hand feels: an attack of mine, a reply of mine, what I do by myself, others' moves, a beat, a hold. */
export type Feel = 'attack' | 'reply' | 'alone' | 'others' | 'beat' | 'hold';

/** Milliseconds of vibration and of stillness in turn, beginning and ending with vibration. */
export type Pattern = readonly number[];

/** The patterns. */
export const PATTERNS: { readonly [Of in Feel]: Pattern } = {
  attack: [300],
  reply: [130, 110, 130],
  alone: [60, 110, 60, 110, 60],
  others: [60],
  beat: [25],
  hold: [700, 120, 700, 120, 700],
};

/** The shortest stroke and the shortest stillness in it that a pattern is pressed to, milliseconds. */
export const SHORTEST_MS = 30;
/** Stillness before one's next act, so that its pattern begins by itself, milliseconds: longer than within a pattern. */
export const REST_MS = 150;

/** What a cue is to a hand; nothing when nothing happens on it. */
export function feelOf(cue: Cue): Feel | null {
  const mine = cue.moves.filter(({ part }) => part !== 'watch');
  // Whoever attacks and is attacked on one beat feels what comes at them.
  if (mine.some(({ part }) => part === 'answer')) return 'reply';
  if (mine.some(({ move }) => move.to !== null || move.reply !== null)) return 'attack';
  if (mine.length > 0 || cue.walks.some(({ part }) => part === 'act')) return 'alone';
  if (cue.moves.length > 0 || cue.walks.length > 0) return 'others';
  return cue.click === 'none' ? null : 'beat';
}

/** True for what is one's own act. */
export function isMine(feel: Feel): boolean {
  return feel === 'attack' || feel === 'reply' || feel === 'alone';
}

/** How long a pattern takes, milliseconds. */
export function lengthOf(pattern: Pattern): number {
  return pattern.reduce((sum, each) => sum + each, 0);
}

/**
 * A pattern that ends before one's next act, `nextInMs` milliseconds away, with stillness between. It is pressed together,
 * so that as many strokes are felt as its kind has; where they would become shorter than can be felt (acts less than about
 * a third of a second apart), the last ones are left out. Empty where there is no time at all.
 */
export function fitted(pattern: Pattern, nextInMs: number): number[] {
  const length = lengthOf(pattern);
  const room = nextInMs - Math.min(REST_MS, nextInMs / 2);
  if (length <= room) return [...pattern];
  if (room < 1) return [];
  const pressed = pattern.map((each) => Math.max(SHORTEST_MS, Math.floor((each * room) / length)));
  while (pressed.length > 1 && lengthOf(pressed) > room) pressed.splice(-2);
  return pressed.map((each) => Math.min(each, Math.floor(room)));
}
