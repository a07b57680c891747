// Beats and bars as the score counts them: anew with each phrase.
import { beatsAt, usAt } from '../core/tempo';
import { TICKS_PER_BEAT, type RunSheet } from '../core/wire';

/** When the bar begins in which a moment lies, both in microseconds from the first beat; the count-in has bars as well. */
export function barBegins(run: RunSheet, us: number): number {
  return begins(run, us, run.beats_per_bar);
}

/**
 * So many steps a second at the most: two of them, there and back, are one flash, and three of those a second are allowed
 * (WCAG 2.2, 2.3.1). This is two.
 */
const STEPS_A_SECOND = 4;

/** The same for its beat; for every other beat, or fewer, of a run that is faster than `STEPS_A_SECOND`. */
export function beatBegins(run: RunSheet, us: number): number {
  const fastest = Math.max(...run.tempo.map(({ from_bpm, to_bpm }) => Math.max(from_bpm, to_bpm)), 1);
  return begins(run, us, Math.ceil(fastest / 60 / STEPS_A_SECOND - 1e-9));
}

function begins(run: RunSheet, us: number, beatsLong: number): number {
  const beats = beatsAt({ ...run, start_us: 0 }, us);
  if (beats === null) return us;
  // A moment that is its own beginning is in it, whatever its last digit.
  const ticks = beats * TICKS_PER_BEAT + 1;
  const from = run.phrases.findLast((phrase) => phrase.at_ticks <= ticks)?.at_ticks ?? 0;
  const long = beatsLong * TICKS_PER_BEAT;
  return usAt(run, from + Math.floor((ticks - from) / long) * long);
}

/** Where the bars of a run begin, ticks from its first beat. */
export function bars(run: RunSheet): number[] {
  const bar = run.beats_per_bar * TICKS_PER_BEAT;
  return run.phrases.flatMap(({ at_ticks, length_ticks }) =>
    Array.from({ length: Math.ceil(length_ticks / bar) }, (_, n) => at_ticks + n * bar),
  );
}
