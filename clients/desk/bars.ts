// Bars as the score counts them: anew with each phrase.
import { beatsAt, usAt } from '../core/tempo';
import { TICKS_PER_BEAT, type RunSheet } from '../core/wire';

/** When the bar begins in which a moment lies, both in microseconds from the first beat; the count-in has bars as well. */
export function barBegins(run: RunSheet, us: number): number {
  const beats = beatsAt({ ...run, start_us: 0 }, us);
  if (beats === null) return us;
  // A moment that is a bar's own beginning is in it, whatever its last digit.
  const ticks = beats * TICKS_PER_BEAT + 1;
  const from = run.phrases.findLast((phrase) => phrase.at_ticks <= ticks)?.at_ticks ?? 0;
  const bar = run.beats_per_bar * TICKS_PER_BEAT;
  return usAt(run, from + Math.floor((ticks - from) / bar) * bar);
}

/** Where the bars of a run begin, ticks from its first beat. */
export function bars(run: RunSheet): number[] {
  const bar = run.beats_per_bar * TICKS_PER_BEAT;
  return run.phrases.flatMap(({ at_ticks, length_ticks }) =>
    Array.from({ length: Math.ceil(length_ticks / bar) }, (_, n) => at_ticks + n * bar),
  );
}
