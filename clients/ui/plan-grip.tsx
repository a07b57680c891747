// Something on the plan that can be taken: by a finger, a mouse, or the arrow keys. It moves with the hand, and is put where it
// is let go.
import type { ComponentChildren } from 'preact';
import { useRef, useState } from 'preact/hooks';
import type { Place } from '../core/floor';
import { inPicture, round, type Seen } from './plan-figure';

/** A step of an arrow key, and a fine one with Shift, metres; what is dragged goes by the same. */
const STEP = 0.1;
const FINE = 0.01;
/** A finger's target, pixels from its middle; and what is left of it where another is near. */
const TARGET_PX = 22;
const LEAST_PX = 8;

const WAYS: Record<string, Place | undefined> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, 1],
  ArrowDown: [0, -1],
};

interface Props {
  at: Place;
  seen: Seen;
  perPixel: number;
  /** True while it may be moved. */
  free: boolean;
  /** How far from its middle it is taken at the most, metres, where others are near: no less than a few pixels. */
  room?: number;
  label: string;
  /** Marks of its group. */
  marks: Record<string, string | undefined>;
  put(place: Place): void;
  /** Told while it is held, and with nothing when it is let go. */
  drags?(place: Place | null): void;
  /** How it looks, around its own middle; given where it is held just now. */
  children(held: Place | null): ComponentChildren;
}

/** The grip. */
export function Grip({ at, seen, perPixel, free, room = Infinity, label, marks, put, drags, children }: Props) {
  const [held, setHeld] = useState<Place | null>(null);
  const grip = useRef<Place>([0, 0]);
  const begun = useRef<Place>(at);
  const [x, y] = inPicture(seen, held ?? at);
  const hold = (place: Place | null): void => {
    setHeld(place);
    drags?.(place);
  };
  const key = (event: KeyboardEvent): void => {
    const way = WAYS[event.key];
    if (way === undefined || !free) return;
    event.preventDefault();
    const step = (event.shiftKey ? FINE : STEP) * (seen === 'house' ? 1 : -1);
    put([tidy(at[0] + way[0] * step), tidy(at[1] + way[1] * step)]);
  };
  const placeOf = (event: PointerEvent): Place => {
    const [pointX, pointY] = inSvg(event) ?? [x, y];
    // From the picture to the floor and back is the same turn.
    const [floorX, floorY] = inPicture(seen, [pointX - grip.current[0], pointY - grip.current[1]]);
    const step = event.shiftKey ? FINE : STEP;
    return [tidy(Math.round(floorX / step) * step), tidy(Math.round(floorY / step) * step)];
  };
  return (
    <g
      class="handle"
      {...marks}
      data-held={held !== null}
      role="button"
      tabindex={0}
      aria-disabled={!free}
      aria-label={label}
      transform={`translate(${round(x)} ${round(y)})`}
      onKeyDown={key}
      onPointerDown={(event) => {
        if (!free || event.button !== 0) return;
        event.preventDefault();
        event.currentTarget.setPointerCapture(event.pointerId);
        event.currentTarget.focus();
        const [pointX, pointY] = inSvg(event) ?? [x, y];
        grip.current = [pointX - x, pointY - y];
        begun.current = at;
        hold(at);
      }}
      onPointerMove={(event) => held !== null && hold(placeOf(event))}
      onPointerUp={() => {
        const [there, from] = [held, begun.current];
        hold(null);
        if (there !== null && (there[0] !== from[0] || there[1] !== from[1])) put(there);
      }}
      onPointerCancel={() => hold(null)}
    >
      <circle
        class="hit"
        r={round(Math.max(LEAST_PX * perPixel, Math.min(room, Math.max(0.3, TARGET_PX * perPixel))))}
      />
      {children(held)}
    </g>
  );
}

function inSvg(event: PointerEvent): Place | null {
  const matrix = (event.currentTarget as SVGElement).ownerSVGElement?.getScreenCTM()?.inverse();
  if (matrix === undefined) return null;
  const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
  return [x, y];
}

/** To the centimetre, and no `-0`. */
const tidy = (value: number): number => Math.round(value * 100) / 100 + 0;
