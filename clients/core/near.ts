// What passes near somebody who only stands by: the next things, and in how many beats. Pure.
import type { View } from './model';
import { runOf, tickOf } from './reading';
import { TICKS_PER_BEAT, type NearView, type RunSheet } from './wire';

/** Something that passes, and whole beats to it, rounded up; 0 while it does. */
export interface Passing {
  near: NearView;
  beats: number;
}

/** What passes is told this long before, beats: two bars of four. */
const AHEAD = 8;
/** Nobody reads more of them at once. */
const MOST = 2;

/** True for who only stands by in a run. */
export function standsBy(run: RunSheet, part: string | null): boolean {
  return part !== null && run.bystanders.includes(part);
}

/** What passes near who plays `part` at the cue on the screen and soon after. */
export function passingOf(view: View, part: string): Passing[] {
  const run = runOf(view);
  const cue = view.shown?.cue ?? null;
  return run === null || cue === null ? [] : passingAt(run, part, tickOf(run, cue));
}

/** The same at a tick. What passes stays for a beat. */
export function passingAt(run: RunSheet, part: string, at: number): Passing[] {
  const beats = (tick: number): number => Math.max(0, Math.ceil((tick - at) / TICKS_PER_BEAT - 1e-6));
  const own = run.near.filter((each) => each.who === part && each.at_ticks > at - TICKS_PER_BEAT);
  const told = own.map((near) => ({ near, beats: beats(near.at_ticks) }));
  return told.filter((each) => each.beats <= AHEAD).slice(0, MOST);
}

/** What comes nearest to somebody in a whole run, the nearest first. */
export function nearestOf(run: RunSheet, part: string): NearView[] {
  return run.near.filter(({ who }) => who === part).sort((a, b) => a.metres - b.metres);
}
