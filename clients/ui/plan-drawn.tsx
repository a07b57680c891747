// The stage from above: what stands where, drawn once, and the people on it, whom `Figures` moves. And the same in words, for
// whoever listens instead of looking.
import type { ComponentChildren } from 'preact';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { groundAt, nearestBetween, presenceAt, writtenWays, type Place } from '../core/floor';
import { titled } from '../core/names';
import type { ApproachView, FloorSheet, GroundView, ThingView } from '../core/wire';
import { decimal } from '../core/words/decimal';
import { words } from '../core/words/plan';
import { Figures, inPicture, point, type Reader, type Seen } from './plan-figure';
import './plan.css';

/** So much is shown around the playing area, metres, and letters are so high on the glass, pixels. */
const AROUND = 1.2;
const CLOSE = 1.8;
const LETTER_PX = 14;
const FOOT = 0.3048;

/** The part of the stage that is shown. */
export interface Box {
  left: number;
  top: number;
  width: number;
  height: number;
}

/** The playing area with what lies close around it. */
export function boxOf(ground: GroundView, seen: Seen): Box {
  const corners = ground.things.filter(({ kind }) => kind === 'area').flatMap((area) => area.corners);
  return around(corners, seen, AROUND);
}

/** Everywhere that anybody of a fight stands or goes, with what lies close around it: for a small picture. */
function boxOfWays(floor: FloorSheet, seen: Seen): Box {
  const places = floor.people.flatMap((way) => writtenWays(way, -Infinity, Infinity).flatMap(({ corners }) => corners));
  return around(places.length > 0 ? places : [[0, 0]], seen, CLOSE);
}

/** What lies around some places. */
export function around(corners: readonly Place[], seen: Seen, much: number): Box {
  const places = corners.map((each) => inPicture(seen, each));
  const [xs, ys] = [places.map(([x]) => x), places.map(([, y]) => y)];
  const [left, top] = [Math.min(...xs) - much, Math.min(...ys) - much];
  return { left, top, width: Math.max(...xs) + much - left, height: Math.max(...ys) + much - top };
}

/** A length as this production says it. */
export function lengthIn(feet: boolean, metres: number, decimals = 1): string {
  return feet ? words.plan.feet(decimal(metres / FOOT, decimals)) : words.plan.metres(decimal(metres, decimals));
}

/** A place in the words of the stage, to the decimetre. */
export function placeIn(feet: boolean, [x, y]: Place): string {
  const [across, up] = [Math.round(x * 10) / 10, Math.round(y * 10) / 10];
  return words.plan.at(across, lengthIn(feet, Math.abs(across)), up, lengthIn(feet, Math.abs(up)));
}

/** What moves the people of a picture. */
export interface Moved {
  show(seconds: number): void;
}

interface Props {
  floor: FloorSheet;
  seen: Seen;
  reader: Reader;
  /** The instant whose set is drawn; the people are moved by `moved`. */
  at: number;
  /** What it is a picture of, for readers. */
  name: string;
  /** Only where people go is shown, not all of the stage. */
  close?: boolean;
  /** Takes what moves the people, again whenever they are drawn anew. */
  moves(moved: Moved): void;
  /** What is laid over it. */
  children?: ((box: Box, perPixel: number) => ComponentChildren) | undefined;
}

/** The picture. */
export function Picture({ floor, seen, reader, at, name, close = false, moves, children }: Props) {
  const ground = groundAt(floor, at);
  const people = useRef<SVGGElement>(null);
  const figures = useRef<Figures | null>(null);
  useEffect(() => {
    if (people.current === null) return;
    figures.current = new Figures(people.current, floor, seen, reader);
    moves(figures.current);
    // Whom it is for is told below; nothing is drawn anew for it.
  }, [floor, seen, ground]);
  useEffect(() => figures.current?.read(reader), [reader.part, reader.partner]);
  const [frame, size] = useSize();
  const box = useMemo(
    () => (ground === null ? null : close ? boxOfWays(floor, seen) : boxOf(ground, seen)),
    [floor, ground, seen, close],
  );
  if (ground === null || box === null) return null;
  const perPixel = Math.max(box.width / size.width, box.height / size.height);
  return (
    <div class="plan-frame">
      <svg
        ref={frame}
        class="plan"
        viewBox={`${box.left} ${box.top} ${box.width} ${box.height}`}
        style={{ '--letter': `${LETTER_PX * perPixel}px`, '--hair': `${perPixel}px` }}
        role={children === undefined ? 'img' : 'group'}
        aria-label={words.plan.picture(name)}
      >
        <Ground ground={ground} seen={seen} box={box} />
        <g ref={people} aria-hidden="true" />
        {children?.(box, perPixel)}
      </svg>
    </div>
  );
}

/** How many pixels large the picture is, so that letters and lines have their size on the glass. */
export function useSize() {
  const frame = useRef<SVGSVGElement>(null);
  const [size, setSize] = useState({ width: 400, height: 400 });
  useEffect(() => {
    const seen = new ResizeObserver(() => {
      const { clientWidth: width = 0, clientHeight: height = 0 } = frame.current ?? {};
      if (width > 0 && height > 0) setSize({ width, height });
    });
    if (frame.current !== null) seen.observe(frame.current);
    return () => seen.disconnect();
  }, []);
  return [frame, size] as const;
}

function Ground({ ground, seen, box }: { ground: GroundView; seen: Seen; box: Box }) {
  const front = inPicture(seen, [0, 0])[1];
  const below = seen === 'house' ? Math.min(front + 0.9, box.top + box.height - 0.15) : box.top + 0.6;
  return useMemo(
    () => (
      <g class="ground" aria-hidden="true">
        {ground.things.map((thing, n) => (
          <Thing key={n} thing={thing} seen={seen} />
        ))}
        <text class="audience" x={box.left + 0.2} y={below}>
          {words.plan.audience}
        </text>
      </g>
    ),
    [ground, seen, box.left, below],
  );
}

/** Something on the stage: edges are lines, everything else has corners. */
export function Thing({ thing: { kind, name, corners }, seen }: { thing: ThingView; seen: Seen }) {
  const places = corners.map((each) => inPicture(seen, each));
  const points = places.map(point).join(' ');
  if (kind === 'edge') return <polyline class="thing" data-kind={kind} points={points} />;
  const named = kind === 'piece' || kind === 'level';
  const middle = places.reduce<[number, number]>(
    ([x, y], [a, b]) => [x + a / places.length, y + b / places.length],
    [0, 0],
  );
  return (
    <g class="thing" data-kind={kind}>
      <polygon points={points} />
      {named && (
        <text x={middle[0]} y={middle[1]} text-anchor="middle">
          {name}
        </text>
      )}
    </g>
  );
}

/** How near anything came that no blow is meant for, between two instants. */
export function Nearest({ floor, from, until }: { floor: FloorSheet; from: number; until: number }) {
  const nearest = nearestBetween(floor, from, until);
  return (
    <p class="nearest">
      {nearest === null ? words.plan.nearestOver(lengthIn(floor.feet, NEAR)) : nearestIn(floor, nearest)}
    </p>
  );
}

/** What comes no nearer than this is not told: NEAR of src/server/floor.rs. */
const NEAR = 2;

function nearestIn(floor: FloorSheet, { gap, who, action, to, beat, phrase }: ApproachView): string {
  const name = floor.phrases[phrase]?.name ?? '';
  return words.plan.nearest(lengthIn(floor.feet, gap, 2), titled(who), action, titled(to), beat, name);
}

/** Who is where, and what stands where: a table that says what the picture shows. */
export function InWords({ floor, reader, at }: { floor: FloorSheet; reader: Reader; at: number }) {
  const [open, setOpen] = useState(false);
  return (
    <details class="plan-words" open={open} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{words.plan.inWords}</summary>
      {open && (
        <>
          <p>
            <b>{words.plan.people}</b>
          </p>
          <ul>
            {floor.people.map(({ who }, person) => (
              <li key={who} dir="auto">
                {personIn(floor, person, reader, at)}
              </li>
            ))}
          </ul>
          <p>
            <b>{words.plan.things}</b>
          </p>
          <ul>
            {groundAt(floor, at)?.things.map((thing, n) => (
              <li key={n} dir="auto">
                {thingIn(floor.feet, thing)}
              </li>
            ))}
          </ul>
        </>
      )}
    </details>
  );
}

/** Somebody at an instant, in a sentence. */
function personIn(floor: FloorSheet, person: number, reader: Reader, at: number): string {
  const way = floor.people[person];
  const presence = presenceAt(floor, person, at);
  if (way === undefined) return '';
  const name = titled(way.who);
  if (presence === null) return words.plan.noMark(name);
  const strikes = floor.sweeps.some((sweep) => sweep.person === person && sweep.from <= at && at <= sweep.until);
  const blade = presence.blade?.length ?? null;
  const next = writtenWays(way, at + 0.01, at + 30)
    .find(({ end }) => end > at)
    ?.corners.at(-1);
  const more = [
    way.who === reader.part ? words.plan.you : '',
    way.who === reader.partner ? words.plan.partner : '',
    way.bystander ? words.plan.bystander : '',
    presence.facing === null ? '' : words.plan.looks(presence.facing),
    words.plan.reach(lengthIn(floor.feet, way.reach, 2)),
    blade === null ? '' : words.plan.blade(lengthIn(floor.feet, blade, 2)),
    strikes ? words.plan.strikes : '',
    next === undefined ? '' : words.plan.next(placeIn(floor.feet, next)),
  ];
  const is = words.plan.is(name, words.plan.pose[presence.pose], placeIn(floor.feet, presence.at));
  return `${[is, ...more.filter((each) => each !== '')].join(', ')}.`;
}

/** Something on the stage, in a sentence. */
export function thingIn(feet: boolean, { kind, name, corners, height, eyes }: ThingView): string {
  const [xs, ys] = [corners.map(([x]) => x), corners.map(([, y]) => y)];
  const [low, high]: Place[] = [
    [Math.min(...xs), Math.min(...ys)],
    [Math.max(...xs), Math.max(...ys)],
  ];
  const how =
    height === null
      ? ''
      : kind === 'edge'
        ? words.plan.deep(lengthIn(feet, height, 2))
        : kind === 'seats'
          ? words.plan.floorAt(lengthIn(feet, height, 2))
          : words.plan.high(lengthIn(feet, height, 2));
  const called = [words.plan.kind[kind], name].filter((each) => each !== '').join(' ');
  const seats = eyes === null ? '' : words.plan.eyes(lengthIn(feet, eyes, 2));
  const where =
    low === undefined || high === undefined ? '' : words.plan.fromTo(placeIn(feet, low), placeIn(feet, high));
  return `${[called, where, how, seats].filter((each) => each !== '').join(', ')}.`;
}

/** From which side it is looked at. */
export function SeenFrom({ seen, choose }: { seen: Seen; choose(seen: Seen): void }) {
  return (
    <div class="choices seen-from" role="group" aria-label={words.plan.seen}>
      {(['house', 'stage'] as const).map((each) => (
        <button type="button" key={each} aria-pressed={each === seen} onClick={() => choose(each)}>
          {words.plan.seenFrom[each]}
        </button>
      ))}
    </div>
  );
}
