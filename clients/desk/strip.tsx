// The run as a strip that moves by time under a fixed line: attacks above it, replies below, each as wide as there is
// room before the next. It moves steadily on the synchronised clock. Its blocks are hardly lighter than the ground (less
// than a tenth of full luminance), so that however fast they pass nothing on the screen flashes (WCAG 2.2, 2.3.1).
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { View } from '../core/model';
import { counting, runOf, stepped } from '../core/reading';
import type { Session } from '../core/session';
import { usAt } from '../core/tempo';
import { TICKS_PER_BEAT, type MoveView, type RunSheet } from '../core/wire';

/** A beat is this wide, pixels, unless the strip would run faster than an eye reads. */
const BEAT_PX = 140;
/**
 * The fastest, pixels a second. An eye follows it easily (some 7 degrees of sight a second at arm's length), and one
 * line of letters for each lane leaves what changes under the quarter of a field of sight that makes a flash.
 */
const FASTEST_PX = 240;
/** No block is wider. */
const WIDEST_PX = 230;
/** A step of the clock's estimate smaller than this is walked off over some frames; a larger one is jumped. */
const JUMP_US = 150_000;
const EASE = 0.08;

/** The strip. What it shows is read out by the cards below it. */
export function Strip({ view, session }: { view: View; session: Session }) {
  const layer = useRef<HTMLDivElement>(null);
  const run = view.run;
  const scale = run === null ? 1 : pxPerSecond(run);
  useMoving(view, session, layer, scale);
  const drawn = useMemo(() => (run === null ? null : <Moves run={run} scale={scale} />), [run, scale]);
  if (run === null) return null;
  return (
    <div class="strip" aria-hidden="true">
      <div class="strip-line" />
      <div class="strip-layer" ref={layer} data-testid="strip">
        {drawn}
      </div>
    </div>
  );
}

function pxPerSecond(run: RunSheet): number {
  const fastest = Math.max(...run.tempo.map(({ from_bpm, to_bpm }) => Math.max(from_bpm, to_bpm)), 1);
  return Math.min(FASTEST_PX, (BEAT_PX * fastest) / 60);
}

function useMoving(view: View, session: Session, layer: { current: HTMLDivElement | null }, scale: number): void {
  const at = useRef({ us: -Infinity, frameMs: 0 });
  const cue = view.shown?.cue ?? null;
  const stepTicks = cue === null ? null : (cue.moves[0]?.move.at_ticks ?? null);
  useEffect(() => {
    let frame = 0;
    const draw = (nowMs: number): void => {
      const target = wantedUs(session, stepTicks, !Number.isFinite(at.current.us));
      if (target !== null) {
        const walked = at.current.us + (stepped(session.view) ? 0 : (nowMs - at.current.frameMs) * 1_000);
        const off = target - walked;
        at.current.us = Math.abs(off) > JUMP_US ? target : walked + off * EASE;
      }
      at.current.frameMs = nowMs;
      const us = Number.isFinite(at.current.us) ? at.current.us : 0;
      if (layer.current !== null) layer.current.style.transform = `translate3d(${(-us / 1e6) * scale}px, 0, 0)`;
      frame = requestAnimationFrame(draw);
    };
    frame = requestAnimationFrame(draw);
    return () => cancelAnimationFrame(frame);
  }, [session, stepTicks, scale]);
  // Another run begins at its own beginning.
  useEffect(() => {
    at.current.us = -Infinity;
  }, [view.run?.run]);
}

/** Where the strip should be, microseconds from the first beat; nothing leaves it where it is. */
function wantedUs(session: Session, stepTicks: number | null, untouched: boolean): number | null {
  const view = session.view;
  const run = runOf(view);
  if (run === null) return null;
  if (!counting(view)) return untouched ? spotUs(view, run) : null;
  if (stepped(view)) return stepTicks === null ? null : usAt(run, stepTicks);
  const now = session.serverNowUs();
  return now === null || run.start_us === null ? null : now - run.start_us;
}

/** Where the server says that the run stands, for a page that did not see it get there. */
function spotUs(view: View, run: RunSheet): number | null {
  const spot = view.state?.spot ?? view.state?.hold?.spot ?? null;
  const move = run.moves.find((each) => each.phrase === spot?.phrase && each.number === spot.move);
  return move === undefined ? null : usAt(run, move.at_ticks);
}

function Moves({ run, scale }: { run: RunSheet; scale: number }) {
  const x = (ticks: number): number => (usAt(run, ticks) / 1e6) * scale;
  const short = shortNames(run);
  const beats = Math.ceil(run.length_ticks / TICKS_PER_BEAT);
  return (
    <>
      {Array.from({ length: beats + 1 }, (_, beat) => (
        <i key={beat} style={{ left: `${x(beat * TICKS_PER_BEAT)}px` }} />
      ))}
      {run.phrases.map((phrase) => (
        <b key={phrase.phrase} class="strip-phrase" dir="auto" style={{ left: `${x(phrase.at_ticks)}px` }}>
          {phrase.name}
        </b>
      ))}
      {run.moves.map((move, n) => {
        const next = run.moves.find((each, m) => m > n && each.at_ticks > move.at_ticks);
        const room = (next === undefined ? Infinity : x(next.at_ticks) - x(move.at_ticks)) - 5;
        return <Block key={n} move={move} short={short} left={x(move.at_ticks)} width={Math.min(WIDEST_PX, room)} />;
      })}
    </>
  );
}

// Names as short as they can be told apart: fewer letters move past the eye. The cards below have them in full.
function shortNames(run: RunSheet): (name: string) => string {
  return (name) => {
    const letters = [...name];
    const clash = (length: number): boolean =>
      run.fighters.some(
        (other) => other !== name && [...other].slice(0, length).join('') === letters.slice(0, length).join(''),
      );
    let length = 1;
    while (length < letters.length && clash(length)) length += 1;
    return letters.slice(0, length).join('');
  };
}

function Block(props: { move: MoveView; short(name: string): string; left: number; width: number }) {
  const { move, short, left, width } = props;
  const style = { left: `${left}px`, width: `${Math.max(24, width)}px` };
  return (
    <>
      <p class="strip-attack" dir="auto" style={style}>
        <small>{short(move.who)}</small> {move.action}
      </p>
      {move.reply !== null && (
        <p class="strip-reply" dir="auto" style={style}>
          <small>{short(move.to ?? '')}</small> {move.reply}
        </p>
      )}
    </>
  );
}
