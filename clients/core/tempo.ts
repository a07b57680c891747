// Where a run is at a moment: the tempo map of its sheet, read backwards. Tempo is linear in beats, so the time to beat
// x of a stretch is (60/k)·ln(1 + kx/b) with slope k and first tempo b, and the beat at time t is (b/k)·(e^(kt/60) − 1).
// Only for what moves between two cues (the bar) and for how long a call or a pattern may take; what a person must do
// always comes from a cue.
import { TICKS_PER_BEAT, type RunSheet, type TempoView } from './wire';

/** The place of a run at a server time, in beats from its first beat; negative in the count-in. */
export function beatsAt(run: Pick<RunSheet, 'tempo' | 'start_us'>, serverUs: number): number | null {
  const first = run.tempo[0];
  if (run.start_us === null || first === undefined) return null;
  const since = serverUs - run.start_us;
  if (since < 0) return (since / 60e6) * first.from_bpm;
  const stretch = run.tempo.findLast((tempo) => tempo.at_us <= since) ?? first;
  return stretch.at_ticks / TICKS_PER_BEAT + beatsInto(stretch, (since - stretch.at_us) / 1e6);
}

/** When a place of a run comes, microseconds from its first beat; the way there of `beatsAt`. */
export function usAt(run: Pick<RunSheet, 'tempo'>, ticks: number): number {
  const stretch = run.tempo.findLast((tempo) => tempo.at_ticks <= ticks) ?? run.tempo[0];
  if (stretch === undefined) return 0;
  const beats = (ticks - stretch.at_ticks) / TICKS_PER_BEAT;
  const k = slope(stretch);
  if (beats <= 0 || Math.abs(k) < 1e-9) return stretch.at_us + (beats / stretch.from_bpm) * 60e6;
  return stretch.at_us + (60e6 / k) * Math.log1p((k * beats) / stretch.from_bpm);
}

/** When a place of a run is due, server time; nothing while the run has no beginning. */
export function dueAt(run: RunSheet, ticks: number): number | null {
  return run.start_us === null ? null : run.start_us + usAt(run, ticks);
}

/** The tempo at a place of a run, beats per minute. */
export function tempoAt(run: RunSheet, beats: number): number | null {
  const ticks = beats * TICKS_PER_BEAT;
  const stretch = run.tempo.findLast((tempo) => tempo.at_ticks <= ticks) ?? run.tempo[0];
  if (stretch === undefined) return null;
  const into = Math.max(0, ticks - stretch.at_ticks) / TICKS_PER_BEAT;
  return stretch.from_bpm + slope(stretch) * into;
}

function slope(stretch: TempoView): number {
  const beats = stretch.length_ticks / TICKS_PER_BEAT;
  return beats > 0 ? (stretch.to_bpm - stretch.from_bpm) / beats : 0;
}

function beatsInto(stretch: TempoView, seconds: number): number {
  const k = slope(stretch);
  if (Math.abs(k) < 1e-9) return (seconds / 60) * stretch.from_bpm;
  return (stretch.from_bpm / k) * Math.expm1((k * seconds) / 60);
}
