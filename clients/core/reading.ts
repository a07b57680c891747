// What follows from what a page knows: the questions that more than one part of a page asks of a view, each answered in
// one place.
import type { View } from './model';
import { words } from './words';
import { NEEDS_THE_CLOCK, TICKS_PER_BEAT } from './wire';
import type {
  Cue,
  CueMove,
  CueWalk,
  HoldRecord,
  HoldView,
  MissingPart,
  MoveView,
  Part,
  RunSheet,
  Spot,
  Stage,
} from './wire';

/** Where the call stands, as far as this page can vouch for it; nothing without a link or between two generations. */
export function stageOf(view: View): Stage | null {
  if (view.link !== 'linked' || view.state === null) return null;
  return view.state.generation < view.generation ? null : view.state.stage;
}

/** True while beats count: the only time when anything moves, sounds or shakes. One's own HOLD ends it at once. */
export function counting(view: View): boolean {
  if (view.tap === 'sending' || view.tap === 'untold') return false;
  const stage = stageOf(view);
  return stage === 'count-in' || stage === 'running';
}

/** True while a run goes or may begin at any moment. */
export function needsTheClock(stage: Stage): boolean {
  return NEEDS_THE_CLOCK.includes(stage);
}

/** The living run's sheet. */
export function runOf(view: View): RunSheet | null {
  return view.run !== null && view.run.generation >= view.generation ? view.run : null;
}

/** The place of a cue, ticks from the first beat of the run; below nought in a count-in. */
export function tickOf(run: RunSheet, cue: Cue): number {
  const [now] = cue.moves;
  if (now !== undefined) return now.move.at_ticks;
  const [walk] = cue.walks;
  if (walk !== undefined) return walk.walk.at_ticks;
  const [next] = cue.next;
  if (next !== undefined && cue.next_in_beats !== null)
    return Math.round(next.move.at_ticks - cue.next_in_beats * TICKS_PER_BEAT);
  if (cue.count_in !== null) return -cue.count_in * TICKS_PER_BEAT;
  return barOf(run, cue) + (cue.count - 1) * TICKS_PER_BEAT;
}

/** Where the bar of a cue begins. */
export function barOf(run: RunSheet, cue: Cue): number {
  const phrase = run.phrases.find((each) => each.phrase === cue.phrase);
  return (phrase?.at_ticks ?? 0) + Math.max(0, cue.bar - 1) * run.beats_per_bar * TICKS_PER_BEAT;
}

/** True in a walk-through. */
export function stepped(view: View): boolean {
  return (view.state?.setup?.drive ?? view.run?.drive) === 'step';
}

/** The speed now, percent: that of the phrase on the screen, else what was asked for. */
export function percentOf(view: View): number | null {
  const phrase = view.shown?.cue.phrase ?? view.state?.spot?.phrase;
  return view.run?.phrases.find((each) => each.phrase === phrase)?.percent ?? view.state?.setup?.percent ?? null;
}

/** The name of the phrase on the screen. */
export function phraseOf(view: View): string | null {
  return view.shown?.cue.phrase_name ?? view.state?.spot?.phrase_name ?? null;
}

/** The moves that come after the cue on the screen, for everybody; the first ones of the range before it begins. */
export function comingMoves(view: View, most: number): MoveView[] {
  const moves = view.run?.moves ?? [];
  const cue = view.shown?.cue;
  if (cue === undefined) return moves.slice(0, most);
  const first = cue.next[0]?.move.at_ticks;
  if (first === undefined) return [];
  return moves.filter((move) => move.at_ticks >= first).slice(0, most);
}

/** The move of a run's sheet at a place; nothing where the sheet has none, or nothing was reached there. */
export function moveAt(run: RunSheet | null, spot: Spot | null): MoveView | null {
  return run?.moves.find((move) => move.phrase === spot?.phrase && move.number === spot.move) ?? null;
}

/** What the reader of a cue does in it, before what the others do. */
export function mineFirst(moves: CueMove[]): CueMove[] {
  return [...moves].sort((a, b) => Number(a.part === 'watch') - Number(b.part === 'watch'));
}

/** What somebody who plays `part` does in a move. */
export function partIn(move: MoveView, part: string | null): Part {
  if (part === null) return 'watch';
  if (move.who === part) return 'act';
  return move.to === part ? 'answer' : 'watch';
}

/** What the reader of a cue does next: moves, a walk that begins before them, or both at once. */
export interface NextAct {
  /** Its place, ticks from the first beat of the run. */
  at: number;
  /** Whole beats to it, rounded up. */
  beats: number;
  moves: CueMove[];
  walks: CueWalk[];
}

/** What comes next for the reader of a cue; nothing when nothing comes. */
export function nextActOf(cue: Cue): NextAct | null {
  const beats = Math.min(cue.next_in_beats ?? Infinity, cue.next_walk_in_beats ?? Infinity);
  const moves = cue.next_in_beats === beats ? mineFirst(cue.next) : [];
  const walks = cue.next_walk_in_beats === beats ? cue.next_walks : [];
  const at = moves[0]?.move.at_ticks ?? walks[0]?.walk.at_ticks;
  return at === undefined ? null : { at, beats: Math.ceil(beats - 1e-6), moves, walks };
}

/** Every part of the run that is not there, ready, linked and looking; nothing while that is not known of these places. */
export function missing(view: View): MissingPart[] | null {
  return view.missing !== null && view.missing.generation === view.generation ? view.missing.parts : null;
}

/** Why the checks before the call speak against starting, a line each. */
export function unsigned(view: View): string[] {
  return (view.checks ?? []).flatMap(({ check, signed }) => {
    if (signed === null) return [words.record.isUnsigned(check)];
    return signed.in_order ? [] : [words.record.isNotInOrder(check)];
  });
}

/** A moment of the server's clock as a time of day here; nothing while that clock is not known. */
export function clockOf(serverNowUs: number | null, atUs: number): string | null {
  if (serverNowUs === null) return null;
  const at = new Date(Date.now() - (serverNowUs - atUs) / 1_000);
  return `${String(at.getHours()).padStart(2, '0')}:${String(at.getMinutes()).padStart(2, '0')}`;
}

/** The hold that a note or a restart is about: the standing one, else the last. */
export function lastHold(view: View): HoldView | null {
  return view.state?.hold ?? view.holds?.at(-1)?.hold ?? null;
}

/**
 * The hold whose reason this person may say now: one that everybody has been told of, and that they have called or lead.
 * Nothing while a tap of theirs is on its way.
 */
export function explainable(view: View): HoldView | null {
  const [stage, standing] = [stageOf(view), view.state?.hold ?? null];
  const hold = standing ?? view.state?.released ?? null;
  if (stage === null || hold === null || view.me === null) return null;
  if (view.tap === 'sending' || view.tap === 'untold') return null;
  const own = view.tap === 'held' || view.tap === 'written' || view.tap === 'unkept';
  const called = hold.callers.some(({ member }) => member === view.me?.member) || (own && standing !== null);
  return called || view.me.role === 'captain' || view.me.role === 'desk' ? hold : null;
}

/** The holds of this call that are over, newest first. */
export function pastHolds(view: View): HoldRecord[] {
  const stands = view.state?.hold?.hold;
  return (view.holds ?? []).filter(({ hold }) => hold.hold !== stands).reverse();
}

/** A hold with what was noted of it, as far as the page is told. */
export function recordOf(view: View, hold: HoldView): HoldRecord | undefined {
  return view.holds?.find((record) => record.hold.hold === hold.hold);
}

/** Whatever of it changes is a reason for what somebody plays to themselves to be silent. */
export function whatHappens(view: View): string {
  return [stageOf(view), view.generation, view.link, view.tap, view.trial?.trial].join();
}
