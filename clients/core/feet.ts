// Where somebody's feet are to be: their mark where a phrase begins, the walk that goes, and the one that comes. Pure.
import type { View } from './model';
import { titled } from './names';
import { runOf, tickOf } from './reading';
import { TICKS_PER_BEAT, type FeetView, type RunSheet } from './wire';
import { words } from './words';

/** The walks of a reader at one place of a run. */
export interface Feet {
  /** The walk that goes, and whole beats until they are there, rounded up. */
  now: { walk: FeetView; beats: number } | null;
  /** The walk that comes next, and whole beats to it. */
  next: { walk: FeetView; beats: number } | null;
}

/** A walk that comes is shown this long before, beats: two bars of four. */
const AHEAD = 8;

/** The walks of who plays `part`, at the cue on the screen. */
export function feetOf(view: View, part: string): Feet {
  const run = runOf(view);
  const cue = view.shown?.cue ?? null;
  if (run === null || cue === null) return { now: null, next: null };
  return feetAt(run, part, tickOf(run, cue));
}

/** The same at a tick. */
export function feetAt(run: RunSheet, part: string, at: number): Feet {
  const own = run.feet.filter((each) => each.who === part && each.until_ticks !== null);
  const beats = (tick: number): number => Math.ceil((tick - at) / TICKS_PER_BEAT - 1e-6);
  const goes = own.findLast((walk) => walk.at_ticks <= at && at < (walk.until_ticks ?? 0));
  const comes = own.find((walk) => walk.at_ticks > at && beats(walk.at_ticks) <= AHEAD);
  return {
    now: goes === undefined ? null : { walk: goes, beats: beats(goes.until_ticks ?? at) },
    next: comes === undefined ? null : { walk: comes, beats: beats(comes.at_ticks) },
  };
}

/** True when somebody walks in a run: then their page keeps room for it. */
export function walksIn(run: RunSheet, part: string): boolean {
  return run.feet.some((each) => each.who === part && each.until_ticks !== null);
}

/** The marks at which a run begins: those of its first phrase, one's own first; none where it begins in the middle. */
export function marksOf(run: RunSheet, part: string | null): FeetView[] {
  const first = run.phrases[0]?.phrase;
  if (run.begins !== null) return [];
  const marks = run.feet.filter((each) => each.phrase === first && each.until_ticks === null);
  return [...marks].sort((a, b) => Number(b.who === part) - Number(a.who === part));
}

/** A mark or a walk in words: where, and whom they face; which way, and around what. */
export function wayOf({ to, further, around, facing, bearing, until_ticks }: FeetView): string {
  const { feet } = words;
  if (until_ticks === null) {
    const look = facing !== null ? feet.facing(titled(facing)) : bearing !== null ? feet.bearing(bearing) : null;
    return [feet.at(to.x, to.y), ...(look === null ? [] : [look])].join(', ');
  }
  const way = further ? feet.walkBy(feet.by(to.x, to.y)) : feet.walkTo(feet.at(to.x, to.y));
  if (around === null) return way;
  const { centre } = around;
  const middle = further ? feet.aroundFromThere(feet.by(centre.x, centre.y)) : feet.at(centre.x, centre.y);
  return `${way}, ${feet.around(middle, around.way)}`;
}
