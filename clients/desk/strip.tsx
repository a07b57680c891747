// The run as a strip under a fixed line: people have rows, time has columns. One pair moves steadily on the synchronised
// clock; several step from beat to beat, for so many letters in motion would flash, and are read better where they stand;
// whoever wants no motion has a step a bar. It stands where a hold caught it. Its blocks are hardly lighter than the ground (less than a
// tenth of full luminance), so that however fast they pass nothing on the screen flashes (WCAG 2.2, 2.3.1); what is under
// way has an edge of ink.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { View } from '../core/model';
import { counting, moveAt, runOf, stageOf, stepped } from '../core/reading';
import type { Session } from '../core/session';
import { usAt } from '../core/tempo';
import type { MoveView, RunSheet } from '../core/wire';
import { barBegins, beatBegins } from './bars';
import { castOf } from './cast';
import { caughtBy, moveOf } from './caught';
import { keyOf } from './lanes';
import { Blocks, CHUNK_PX, Names } from './lanes-drawn';
import { heightOf, layoutOf, ROOMY_PX, type Layout } from './layout';

/** A beat is this wide, pixels, where each person has a row, and where a pair has one, unless that were too fast. */
const BEAT_PX = 180;
const CLOSE_BEAT_PX = 140;
/** The fastest that glides, pixels a second: an eye follows it easily, some 7 degrees of sight a second at arm's length. */
const FASTEST_PX = 240;
/** What steps is followed by no eye; so much of it is in sight that two seconds to come are. */
const FASTEST_STEPS_PX = 400;
/** A step of the clock's estimate smaller than this is walked off over some frames; a larger one is jumped. */
const JUMP_US = 150_000;
const EASE = 0.08;

const still = matchMedia('(prefers-reduced-motion: reduce)');

/** The strip. What it shows is read out by the cards below it. */
export function Strip({ view, session }: { view: View; session: Session }) {
  const { run } = view;
  const most = useMostLanes();
  const layout = useMemo(() => (run === null ? null : layoutOf(run, most)), [run, most]);
  if (run === null || layout === null || run.moves.length === 0) return null;
  return <Moving run={run} layout={layout} view={view} session={session} />;
}

function Moving(props: { run: RunSheet; layout: Layout; view: View; session: Session }) {
  const { run, layout, view, session } = props;
  const layer = useRef<HTMLDivElement>(null);
  const scale = pxPerSecond(run, layout);
  const chunk = useMoving(view, session, layer, { scale, glides: glides(layout) });
  const marked = markedIn(view);
  const marks = marked.map(keyOf).join(' ');
  const drawn = useMemo(
    () => <Blocks run={run} layout={layout} scale={scale} chunk={chunk} marked={new Set(marked.map(keyOf))} />,
    [run, layout, scale, chunk, marks],
  );
  const lacking = (castOf(view) ?? []).flatMap(({ part, lack }) =>
    lack === null || lack === 'not-ready' ? [] : [part],
  );
  return (
    <div
      class="strip"
      data-kind={layout.kind}
      data-close={layout.row < ROOMY_PX}
      aria-hidden="true"
      style={{ height: `${heightOf(layout)}px` }}
    >
      <div class="strip-line" />
      <div class="strip-layer" ref={layer} data-testid="strip">
        {drawn}
      </div>
      <Names layout={layout} lacking={lacking} />
    </div>
  );
}

// What is under way: the cue on the screen, or the move at which a hold or a stop came.
function markedIn(view: View): MoveView[] {
  if (counting(view)) return view.shown?.cue.moves.map(({ move }) => move) ?? [];
  const hold = caughtBy(view);
  const stopped = stageOf(view) === 'stopped' ? (view.state?.spot ?? null) : null;
  const move = hold === null ? moveAt(view.run, stopped) : moveOf(hold, view);
  return move === null ? [] : [move];
}

function pxPerSecond(run: RunSheet, layout: Layout): number {
  const fastest = Math.max(...run.tempo.map(({ from_bpm, to_bpm }) => Math.max(from_bpm, to_bpm)), 1);
  const beat = layout.kind === 'pairs' ? BEAT_PX : CLOSE_BEAT_PX;
  return Math.min(glides(layout) ? FASTEST_PX : FASTEST_STEPS_PX, (beat * fastest) / 60);
}

/** So many lanes fit at the least, on the smallest screen of a desk, and one more for so many pixels more. */
const LEAST_LANES = 15;
const LEAST_PX = 800;
const LANE_PX = 24;
/** From this width on everything is drawn larger: `desk.css`. */
const LARGE = matchMedia('(min-width: 2400px)');
const LARGER = 1.65;

function useMostLanes(): number {
  const now = (): number => {
    const height = window.innerHeight / (LARGE.matches ? LARGER : 1);
    return LEAST_LANES + Math.max(0, Math.floor((height - LEAST_PX) / LANE_PX));
  };
  const [most, setMost] = useState(now);
  useEffect(() => {
    const look = (): void => setMost(now());
    window.addEventListener('resize', look);
    return () => window.removeEventListener('resize', look);
  }, []);
  return most;
}

// A pair's two lines of letters in motion are less than what makes a flash; those of two pairs are more, measured in frames
// (browser/lanes.test.ts).
function glides(layout: Layout): boolean {
  return layout.kind === 'pairs' && layout.lanes.length === 1;
}

interface Motion {
  /** Pixels a second. */
  scale: number;
  /** False where it steps from beat to beat. */
  glides: boolean;
}

// Moves the layer, and says which stretch of it is in sight.
function useMoving(
  view: View,
  session: Session,
  layer: { current: HTMLDivElement | null },
  { scale, glides }: Motion,
): number {
  const at = useRef({ us: -Infinity, frameMs: 0 });
  const [chunk, setChunk] = useState(0);
  const cue = view.shown?.cue ?? null;
  const stepTicks = cue === null ? null : (cue.moves[0]?.move.at_ticks ?? null);
  useEffect(() => {
    let frame = 0;
    let drawnAt = NaN;
    const draw = (nowMs: number): void => {
      const target = wantedUs(session, stepTicks, !Number.isFinite(at.current.us));
      if (target !== null) {
        const walked = at.current.us + (stepped(session.view) ? 0 : (nowMs - at.current.frameMs) * 1_000);
        const off = target - walked;
        at.current.us = Math.abs(off) > JUMP_US ? target : walked + off * EASE;
      }
      at.current.frameMs = nowMs;
      const x = (shownUs(session.view, at.current.us, glides) / 1e6) * scale;
      if (layer.current !== null && x !== drawnAt) {
        layer.current.style.transform = `translate3d(${-x}px, 0, 0)`;
        drawnAt = x;
        setChunk(Math.floor(x / CHUNK_PX));
      }
      frame = requestAnimationFrame(draw);
    };
    frame = requestAnimationFrame(draw);
    return () => cancelAnimationFrame(frame);
  }, [session, stepTicks, scale, glides]);
  // Another run begins at its own beginning.
  useEffect(() => {
    at.current.us = -Infinity;
  }, [view.run?.run]);
  return chunk;
}

// Where the line stands: at the moment itself, or at the beginning of its beat or bar.
function shownUs(view: View, us: number, glides: boolean): number {
  if (!Number.isFinite(us)) return 0;
  if (view.run === null || stepped(view) || stageOf(view) === 'complete') return us;
  return still.matches ? barBegins(view.run, us) : glides ? us : beatBegins(view.run, us);
}

/** Where the strip should be, microseconds from the first beat; nothing leaves it where it is. */
function wantedUs(session: Session, stepTicks: number | null, untouched: boolean): number | null {
  const view = session.view;
  if (!counting(view)) return untouched ? spotUs(view) : null;
  const run = runOf(view);
  if (run === null) return null;
  if (stepped(view)) return stepTicks === null ? null : usAt(run, stepTicks);
  const now = session.serverNowUs();
  return now === null || run.start_us === null ? null : now - run.start_us;
}

/** Where the server says that the run stands, for a page that did not see it get there. */
function spotUs({ run, state }: View): number | null {
  if (run !== null && state?.stage === 'complete') return usAt(run, run.length_ticks);
  const move = moveAt(run, state?.spot ?? state?.hold?.spot ?? null);
  return run === null || move === null ? null : usAt(run, move.at_ticks);
}
