// A whole fight on the plan where nothing runs: gone through by hand, or played by itself at performance tempo. What is played
// here is no run, and ends when one begins.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { phraseAt, secondsOf } from '../core/floor';
import { partnerAt } from '../core/floor-place';
import type { Choices } from '../core/settings';
import { beatsAt } from '../core/tempo';
import { TICKS_PER_BEAT, type FloorSheet, type MoveView } from '../core/wire';
import { words } from '../core/words/plan';
import { useFloor } from './floors';
import { InWords, Nearest, Picture, SeenFrom, type Box, type Moved } from './plan-drawn';
import { useSeen } from './plan-seen';

/** A step of the slider: a quarter of a beat. */
const STEP = TICKS_PER_BEAT / 4;

const still = matchMedia('(prefers-reduced-motion: reduce)');

interface Props {
  floor: FloorSheet;
  choices: Choices;
  fight: string;
  /** Whose it is; nothing for nobody's. */
  part: string | null;
  moves: readonly MoveView[];
  /** True while something is real: then nothing plays here. */
  busy: boolean;
  /** Where it is put from outside, ticks, anew with each object. */
  goTo?: { ticks: number } | null;
  /** What is laid over the picture. */
  children?: (box: Box, perPixel: number) => ComponentChildren;
}

/** The fight of that name on its stage, once it is here. */
export function ScrubFloor(given: Omit<Props, 'floor'> & { id: string; personalKey: string }) {
  const { id, personalKey, ...props } = given;
  const floor = useFloor(id, personalKey);
  if (floor === 'gone') return <p>{words.plan.none}</p>;
  return floor === null ? <p class="hint">{words.plan.coming}</p> : <ScrubPlan floor={floor} {...props} />;
}

/** The fight, with what moves it. */
export function ScrubPlan({ floor, choices, fight, part, moves, busy, goTo = null, children }: Props) {
  const seen = useSeen(choices);
  const moved = useRef<Moved | null>(null);
  const end = endOf(floor);
  const [at, setAt] = useState(0);
  const [plays, setPlays] = useState(false);
  const ticks = Math.min(at, end);
  const show = (to: number): void => moved.current?.show(secondsOf(floor, to));
  useEffect(() => show(ticks), [floor, ticks]);
  useEffect(() => {
    if (goTo === null) return;
    setPlays(false);
    setAt(goTo.ticks);
  }, [goTo]);
  useEffect(() => {
    if (busy) setPlays(false);
  }, [busy]);
  usePlaying(plays, floor, ticks, (to, over) => {
    show(still.matches ? beatOf(to) : to);
    // What is said, and the slider, follow once a beat.
    setAt((before) => (over || beatOf(to) !== beatOf(before) ? (over ? to : beatOf(to)) : before));
    if (over) setPlays(false);
  });
  const by = (much: number): void => {
    setPlays(false);
    setAt(Math.min(Math.max(0, (Math.round(ticks / TICKS_PER_BEAT) + much) * TICKS_PER_BEAT), end));
  };
  const seconds = secondsOf(floor, ticks);
  const reader = { part, partner: partnerAt(moves, part, ticks) };
  const where = whereOf(floor, ticks);
  return (
    <div class="plan-scrub">
      <Picture
        {...{ floor, seen, reader, children }}
        at={seconds}
        name={fight}
        moves={(figures) => {
          moved.current = figures;
          figures.show(seconds);
        }}
      />
      <p dir="auto">{where}</p>
      <div class="plan-controls">
        <button type="button" aria-label={words.plan.back} onClick={() => by(-1)}>
          ◀
        </button>
        <input
          type="range"
          aria-label={words.plan.scrub}
          aria-valuetext={where}
          min={0}
          max={end}
          step={STEP}
          value={ticks}
          onInput={(event) => {
            setPlays(false);
            setAt(Number(event.currentTarget.value));
          }}
        />
        <button type="button" aria-label={words.plan.on} onClick={() => by(1)}>
          ▶
        </button>
        <button
          type="button"
          disabled={busy}
          onClick={() => {
            if (!plays && ticks >= end) setAt(0);
            setPlays(!plays);
          }}
        >
          {plays ? `■ ${words.plan.stop}` : `▶ ${words.plan.play}`}
        </button>
      </div>
      {busy && <p class="hint">{words.plan.busy}</p>}
      <Nearest floor={floor} from={0} until={seconds} />
      <SeenFrom seen={seen} choose={(to) => choices.choose({ seen: to })} />
      <InWords {...{ floor, reader }} at={seconds} />
    </div>
  );
}

// From where it stands on, at performance tempo, by this device's own clock: nothing that is real hangs on it.
function usePlaying(
  plays: boolean,
  floor: FloorSheet,
  from: number,
  show: (ticks: number, over: boolean) => void,
): void {
  const showing = useRef(show);
  showing.current = show;
  useEffect(() => {
    if (!plays) return undefined;
    const [begin, begun, end] = [secondsOf(floor, from) * 1e6, performance.now(), endOf(floor)];
    let frame = requestAnimationFrame(function draw(now: number): void {
      const beats = beatsAt({ tempo: floor.tempo, start_us: 0 }, begin + Math.max(0, now - begun) * 1_000) ?? 0;
      const to = Math.min(beats * TICKS_PER_BEAT, end);
      showing.current(to, to >= end);
      if (to < end) frame = requestAnimationFrame(draw);
    });
    return () => cancelAnimationFrame(frame);
    // From where it stood when it was begun.
  }, [plays, floor]);
}

/** The end of the fight, ticks. */
function endOf({ phrases }: FloorSheet): number {
  const last = phrases.at(-1);
  return last === undefined ? 0 : last.at_ticks + last.length_ticks;
}

const beatOf = (ticks: number): number => Math.floor(ticks / TICKS_PER_BEAT) * TICKS_PER_BEAT;

/** The phrase and the beat of a tick. */
function whereOf(floor: FloorSheet, ticks: number): string {
  const phrase = floor.phrases[phraseAt(floor, ticks)];
  const quarters = Math.floor(((ticks - (phrase?.at_ticks ?? 0)) / TICKS_PER_BEAT) * 4) / 4 + 1;
  const rest = ['', '+1/4', '+1/2', '+3/4'][Math.round((quarters % 1) * 4)] ?? '';
  return words.plan.beatOf(phrase?.name ?? '', `${Math.floor(quarters)}${rest}`);
}
