// The people on the plan, as shapes that are moved by hand and not drawn anew: of sixty frames a second none may wait for
// anything. Whoever fights is a disc, whoever stands by a square; how they are is told by the shape, who by the name.
import { placeAt, presenceAt, sweepsAt, writtenWays, type Place, type Presence } from '../core/floor';
import { titled } from '../core/names';
import type { FloorSheet, SweepView } from '../core/wire';

/** From which side the stage is looked at. */
export type Seen = 'house' | 'stage';

/** A place of the stage in the picture: from the house upstage is up; from the stage everything is turned round. */
export const inPicture = (seen: Seen, [x, y]: Place): Place => (seen === 'house' ? [x, -y] : [-x, y]);

/** One's own way is drawn this far ahead, seconds at performance tempo. */
const AHEAD_S = 12;
/** A mark that is so near is where one stands, metres. */
const THERE = 0.05;
const SVG = 'http://www.w3.org/2000/svg';

interface Figure {
  group: SVGGElement;
  turned: SVGGElement;
  blade: SVGGElement;
  line: SVGLineElement;
  said: string;
}

/** Whom the picture is for. */
export interface Reader {
  /** Who reads it. */
  part: string | null;
  /** With whom they have to do next. */
  partner: string | null;
}

/** The shapes in an empty group of an SVG. */
export class Figures {
  readonly #figures: (Figure | null)[];
  readonly #sweeps: SVGGElement;
  readonly #own: SVGGElement;
  #swept = '';
  #ownSaid = '';

  constructor(
    place: SVGGElement,
    private readonly floor: FloorSheet,
    private readonly seen: Seen,
    private reader: Reader,
  ) {
    place.replaceChildren();
    this.#sweeps = add(place, 'g', { class: 'sweeps' });
    this.#own = add(place, 'g', { class: 'own-way' });
    this.#figures = floor.people.map(({ who, reach, bystander }) => {
      const group = add(place, 'g', { class: 'person', 'data-who': who, 'data-bystander': String(bystander) });
      add(group, 'circle', { class: 'reach', r: reach });
      const turned = add(group, 'g', {});
      const blade = add(group, 'g', { class: 'blade' });
      const line = add(blade, 'line', { x1: 0, x2: 0 });
      add(turned, 'path', { class: 'nose', d: 'M-.14 -.2L0 -.5L.14 -.2Z' });
      if (bystander) add(group, 'rect', { class: 'body', x: -0.22, y: -0.22, width: 0.44, height: 0.44 });
      else add(group, 'circle', { class: 'body', r: 0.25 });
      add(group, 'circle', { class: 'lies', r: 0.25 });
      add(group, 'text', { 'text-anchor': 'middle' }).textContent = titled(who);
      return { group, turned, blade, line, said: '' };
    });
    this.read(reader);
  }

  /** It is for somebody else, or their partner is another. */
  read(reader: Reader): void {
    this.reader = reader;
    this.floor.people.forEach(({ who }, n) => {
      const is = who === reader.part ? 'you' : who === reader.partner ? 'partner' : 'other';
      this.#figures[n]?.group.setAttribute('data-is', is);
    });
    this.#ownSaid = '';
  }

  /** Everybody as they are at an instant. */
  show(time: number): void {
    this.#figures.forEach((figure, person) => {
      if (figure !== null) this.#place(figure, presenceAt(this.floor, person, time));
    });
    this.#sweep(time);
    this.#ownWay(time);
  }

  #place(figure: Figure, presence: Presence | null): void {
    const said = presence === null ? '' : this.#said(presence);
    if (said === figure.said) return;
    figure.said = said;
    figure.group.setAttribute('visibility', presence === null ? 'hidden' : 'visible');
    if (presence === null) return;
    const [x, y] = inPicture(this.seen, presence.at);
    const turned = (bearing: number): string => `rotate(${round(this.seen === 'house' ? bearing : bearing + 180)})`;
    figure.group.setAttribute('transform', `translate(${round(x)} ${round(y)})`);
    figure.group.setAttribute('data-pose', presence.pose);
    figure.turned.setAttribute('visibility', presence.facing === null ? 'hidden' : 'inherit');
    if (presence.facing !== null) figure.turned.setAttribute('transform', turned(presence.facing));
    figure.group.querySelector('.lies')?.setAttribute('r', String(round(presence.radius)));
    const blade = presence.blade;
    figure.blade.setAttribute('visibility', blade === null ? 'hidden' : 'inherit');
    if (blade === null) return;
    figure.blade.setAttribute('transform', turned(blade.bearing));
    figure.line.setAttribute('y1', String(round(-blade.guard)));
    figure.line.setAttribute('y2', String(round(-blade.point)));
  }

  #said({ at, facing, pose, blade }: Presence): string {
    const numbers = [...at, facing ?? -1, blade?.bearing ?? -1, blade?.guard ?? 0, blade?.point ?? 0];
    return `${numbers.map(round).join()} ${pose}`;
  }

  #sweep(time: number): void {
    const drawn = sweepsAt(this.floor, time).flatMap((sweep) => {
      const presence = presenceAt(this.floor, sweep.person, time);
      return presence === null || presence.facing === null ? [] : [this.#wedge(sweep, presence.at, presence.facing)];
    });
    const said = drawn.join(' ');
    if (said === this.#swept) return;
    this.#swept = said;
    this.#sweeps.replaceChildren();
    for (const d of drawn) add(this.#sweeps, 'path', { d });
  }

  #wedge({ radius, left, right }: SweepView, at: Place, facing: number): string {
    const to = (angle: number): string => {
      const turn = ((facing + angle) * Math.PI) / 180;
      return point(inPicture(this.seen, [at[0] + Math.sin(turn) * radius, at[1] + Math.cos(turn) * radius]));
    };
    const [wide, r] = [left + right, round(radius)];
    if (wide >= 359.9) return `M${to(0)}A${r} ${r} 0 1 1 ${to(180)}A${r} ${r} 0 1 1 ${to(0)}Z`;
    return `M${point(inPicture(this.seen, at))}L${to(-left)}A${r} ${r} 0 ${wide > 180 ? 1 : 0} 1 ${to(right)}Z`;
  }

  // Where one goes next and where it ends: what the score writes, from where one is.
  #ownWay(time: number): void {
    const own = this.floor.people.find(({ who }) => who === this.reader.part);
    const here = own === undefined ? null : placeAt(own, time);
    const ways = own === undefined ? [] : writtenWays(own, time, time + AHEAD_S);
    const next = ways.find(({ corners }) => here !== null && far(corners.at(-1) ?? here, here) > THERE);
    const said = next === undefined ? '' : `${next.begin} ${next.begin <= time ? round(time) : ''}`;
    if (said === this.#ownSaid) return;
    this.#ownSaid = said;
    this.#own.replaceChildren();
    const end = next?.corners.at(-1);
    if (next === undefined || end === undefined || here === null) return;
    const rest =
      next.begin <= time ? [here, ...next.corners.slice(nearestCorner(next.corners, here) + 1)] : next.corners;
    const points = rest.map((each) => point(inPicture(this.seen, each))).join(' ');
    add(this.#own, 'polyline', { points });
    const [x, y] = inPicture(this.seen, end);
    add(this.#own, 'path', {
      class: 'next-mark',
      d: 'M-.22 -.22L.22 .22M-.22 .22L.22 -.22',
      transform: `translate(${round(x)} ${round(y)})`,
    });
  }
}

const far = ([x, y]: Place, [a, b]: Place): number => Math.hypot(x - a, y - b);

function nearestCorner(corners: readonly Place[], here: Place): number {
  return corners.reduce((best, each, n) => (far(each, here) < far(corners[best] ?? each, here) ? n : best), 0);
}

/** To the millimetre: less is not seen. */
export const round = (value: number): number => Math.round(value * 1_000) / 1_000;

/** A place as SVG writes it. */
export const point = ([x, y]: Place): string => `${round(x)} ${round(y)}`;

function add<Name extends 'g' | 'circle' | 'rect' | 'line' | 'path' | 'text' | 'polyline'>(
  place: Element,
  name: Name,
  marks: Record<string, string | number>,
): SVGElementTagNameMap[Name] {
  const made = document.createElementNS(SVG, name);
  for (const [mark, value] of Object.entries(marks)) made.setAttribute(mark, String(value));
  return place.appendChild(made);
}
