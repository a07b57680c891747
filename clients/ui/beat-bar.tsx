// The beat as a bar that fills: it moves steadily instead of flashing, and slower than a flash could be at any tempo.
import { useEffect, useRef } from 'preact/hooks';
import { counting, runOf } from '../core/reading';
import type { Session } from '../core/session';
import { barsPerSweep, beatsAt, tempoAt } from '../core/tempo';

const still = matchMedia('(prefers-reduced-motion: reduce)');

/** How full the bar is now, 0 to 1; nothing while nothing counts by the clock. */
export function fullness(session: Session): number | null {
  const view = session.view;
  const [run, now] = [runOf(view), session.serverNowUs()];
  if (!counting(view) || run === null || now === null) return null;
  const beats = beatsAt(run, now);
  const bpm = beats === null ? null : tempoAt(run, beats);
  if (beats === null || bpm === null) return null;
  // Bars begin anew with each phrase, as the score counts them.
  const phrase = run.phrases.findLast((each) => each.at_ticks / 960 <= beats);
  const sinceBar = beats - (phrase === undefined ? 0 : phrase.at_ticks / 960);
  const sweep = run.beats_per_bar * barsPerSweep(bpm, run.beats_per_bar);
  const into = ((sinceBar % sweep) + sweep) % sweep;
  // Who wants no motion gets a bar that steps from beat to beat, as long as a beat is no flash.
  return (still.matches ? Math.floor(into) + 1 : into) / sweep;
}

/** The moving bar, with a mark at every beat of the bar. */
export function BeatBar({ session, beats }: { session: Session; beats: number }) {
  const fill = useRef<HTMLDivElement>(null);
  useEffect(() => {
    let frame = 0;
    const draw = (): void => {
      const full = fullness(session);
      if (fill.current !== null) {
        fill.current.style.transform = `scaleX(${full ?? 0})`;
      }
      frame = requestAnimationFrame(draw);
    };
    frame = requestAnimationFrame(draw);
    return () => cancelAnimationFrame(frame);
  }, [session]);
  return (
    <div class="beat-bar" aria-hidden="true">
      <div class="beat-fill" ref={fill} />
      {Array.from({ length: Math.max(0, beats - 1) }, (_, beat) => (
        <i key={beat} style={{ left: `${((beat + 1) / beats) * 100}%` }} />
      ))}
    </div>
  );
}
