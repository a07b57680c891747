// Where everybody is on the stage at an instant of a fight, from what the server tells of it once. Pure. Its twin is
// `Tracks::presence` in src/stage/track.rs; both are held together by tests/vectors/floor.json. Seconds are those of the
// whole fight at performance tempo, places are metres: to stage left, upstage.
import { usAt } from './tempo';
import type { ApproachView, FloorSheet, GroundView, PoseView, RunSheet, SweepView, WayThrough } from './wire';

/** A place on the floor. */
export type Place = readonly [number, number];

/** Half the breadth of somebody who stands, metres: BODY_RADIUS of src/stage/body.rs. */
export const BODY_RADIUS = 0.25;

/** Where somebody is at an instant. */
export interface Presence {
  at: Place;
  /** Degrees: 0 upstage, 90 stage left; nothing where nothing says it. */
  facing: number | null;
  pose: PoseView;
  /** The room that the body takes up, metres. */
  radius: number;
  /** The weapon in hand: its bearing, how far its guard and its point are from the middle of the body, and how long it is. */
  blade: { bearing: number; guard: number; point: number; length: number } | null;
}

/** Where somebody is; nothing before their first mark. */
export function presenceAt(floor: FloorSheet, person: number, time: number): Presence | null {
  const way = floor.people[person];
  if (way === undefined) return null;
  const at = placeAt(way, time);
  if (at === null) return null;
  const facing = facingAt(floor, way, at, time);
  const pose = way.poses[lastBy(way.poses, time, (each) => each.at)]?.pose ?? 'standing';
  const radius = pose === 'lying' ? way.stature / 2 : BODY_RADIUS;
  const blade = facing === null ? null : bladeAt(floor, person, way, facing, time);
  return { at, facing, pose, radius, blade };
}

/** Where somebody is on the floor; nothing before their first mark. */
export function placeAt(way: WayThrough, time: number): Place | null {
  const leg = way.legs[lastBy(way.legs, time, ([begin = 0]) => begin)];
  return leg === undefined ? null : onLeg(leg, time);
}

function onLeg(leg: readonly number[], time: number): Place {
  const [begin = 0, end = 0] = leg;
  const part = end > begin ? Math.min(Math.max((time - begin) / (end - begin), 0), 1) : 1;
  return partOf(leg, part);
}

// A place, the two ends of a straight way, or a way round a middle: by how many numbers there are.
function partOf(leg: readonly number[], part: number): Place {
  const [, , x = 0, y = 0, third = 0, fourth = 0, fifth = 0, sixth = 0] = leg;
  if (leg.length === 4) return [x, y];
  if (leg.length === 6) return [x + (third - x) * part, y + (fourth - y) * part];
  const out = fifth + (sixth - fifth) * part;
  return along([x, y], third + fourth * part, out);
}

/** The place that is so far from another along a bearing. */
export function along([x, y]: Place, bearing: number, far: number): Place {
  const turn = (bearing * Math.PI) / 180;
  return [x + Math.sin(turn) * far, y + Math.cos(turn) * far];
}

function facingAt(floor: FloorSheet, way: WayThrough, at: Place, time: number): number | null {
  const look = way.looks[lastBy(way.looks, time, (each) => each.at)];
  if (look === undefined) return null;
  if (look.person === null) return look.bearing === null ? null : (look.bearing + 360) % 360;
  const other = floor.people[look.person];
  const to = other === undefined ? null : placeAt(other, time);
  if (to === null || Math.hypot(to[0] - at[0], to[1] - at[1]) <= 1e-9) return null;
  return bearingOf(to[0] - at[0], to[1] - at[1]);
}

const bearingOf = (x: number, y: number): number => ((Math.atan2(x, y) * 180) / Math.PI + 360) % 360;

// In a blow the blade comes from its side to the partner; else it is held in front, its point up by 30 degrees.
function bladeAt(floor: FloorSheet, person: number, way: WayThrough, facing: number, time: number): Presence['blade'] {
  const length = way.blades[lastBy(way.blades, time, ([at]) => at)]?.[1] ?? 0;
  if (length <= 0) return null;
  const blow = sweepsAt(floor, time).find((sweep) => sweep.person === person && sweep.armed);
  if (blow !== undefined) {
    const before = Math.min(Math.max((blow.beat - time) / Math.max(blow.beat - blow.from, 1e-9), 0), 1);
    const bearing = (blow.right >= blow.left ? blow.right : -blow.left) * before;
    return { bearing: facing + bearing, guard: blow.radius - length, point: blow.radius, length };
  }
  const guard = way.reach / 2;
  return { bearing: facing, guard, point: guard + length * Math.cos(Math.PI / 6), length };
}

/** No blow takes longer than this to one side of its beat, seconds. */
const LONGEST_BLOW = 60;

/** What is being swept at an instant. */
export function sweepsAt({ sweeps }: FloorSheet, time: number): SweepView[] {
  const goes: SweepView[] = [];
  for (let n = lastBy(sweeps, time + LONGEST_BLOW, (each) => each.beat); n >= 0; n -= 1) {
    const sweep = sweeps[n];
    if (sweep === undefined || sweep.beat < time - LONGEST_BLOW) break;
    if (sweep.from <= time && time <= sweep.until) goes.unshift(sweep);
  }
  return goes;
}

/** The ways that the score writes for somebody between two instants, as corners, each with when it begins and ends. */
export function writtenWays(
  way: WayThrough,
  from: number,
  until: number,
): { begin: number; end: number; corners: Place[] }[] {
  return way.written.flatMap((number) => {
    const leg = way.legs[number];
    const [begin = 0, end = 0] = leg ?? [];
    if (leg === undefined || end < from || begin > until) return [];
    const pieces = leg.length === 4 ? 0 : leg.length === 6 ? 1 : Math.max(1, Math.ceil(Math.abs(leg[5] ?? 0) / 5));
    const corners = Array.from({ length: pieces + 1 }, (_, n) => partOf(leg, pieces === 0 ? 1 : n / pieces));
    return [{ begin, end, corners }];
  });
}

/** To what a blow came nearest between two instants; nothing where none came near anything. */
export function nearestBetween({ approaches }: FloorSheet, from: number, until: number): ApproachView | null {
  const there = approaches.filter(({ at }) => from <= at && at <= until);
  return there.reduce<ApproachView | null>((best, each) => (best === null || each.gap < best.gap ? each : best), null);
}

/** The instant of a place of a run: ticks from its first beat, whatever its speed and its phrases. */
export function secondsIn(floor: FloorSheet, run: Pick<RunSheet, 'phrases'>, ticks: number): number {
  const phrase = run.phrases.findLast(({ at_ticks }) => at_ticks <= ticks) ?? run.phrases[0];
  const whole = floor.phrases[phrase?.phrase ?? 0];
  if (phrase === undefined || whole === undefined) return 0;
  // A run that begins in the middle of a phrase has only the rest of it.
  const into = whole.length_ticks - phrase.length_ticks + Math.max(0, ticks - phrase.at_ticks);
  return secondsOf(floor, whole.at_ticks + Math.min(into, whole.length_ticks));
}

/** The instant of a tick of the whole fight. */
export function secondsOf(floor: FloorSheet, ticks: number): number {
  return usAt(floor, ticks) / 1e6;
}

/** The phrase of the whole fight at a tick, by place. */
export function phraseAt({ phrases }: FloorSheet, ticks: number): number {
  return Math.max(
    0,
    phrases.findLastIndex(({ at_ticks }) => at_ticks <= ticks),
  );
}

/** What stands where at an instant. */
export function groundAt(floor: FloorSheet, time: number): GroundView | null {
  const phrase =
    floor.phrases.findLast(({ at_ticks }) => secondsOf(floor, at_ticks) <= time + 1e-6) ?? floor.phrases[0];
  return floor.grounds[phrase?.ground ?? 0] ?? null;
}

// The last of a list, in order of time, that begins by then; -1 when none does.
function lastBy<T>(list: readonly T[], time: number, begins: (each: T) => number): number {
  let [low, high] = [0, list.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    const each = list[middle];
    if (each !== undefined && begins(each) <= time) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
