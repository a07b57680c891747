// Who fights whom, as lanes of time: a lane belongs to a pair for the whole run, so an eye that has found it keeps it. No
// two moves of a lane come at the same time, and every move is in exactly one lane: nothing is drawn over anything.
import { TICKS_PER_BEAT, type MoveView } from '../core/wire';
import { groupsOf, type Group } from './groups';

/** A lane: whose it is, in the order of the score, and their moves in the order of time. */
export interface Lane {
  people: readonly [string] | readonly [string, string];
  moves: MoveView[];
}

/** Moves nearer than this, ticks, count as being at the same time: one after the other they could not be read. */
export const LEAST_TICKS = TICKS_PER_BEAT / 8;

/**
 * The lanes of a run. A pair has one, and another only for what they do at the same time. Who acts alone does so in a
 * lane of theirs that is free then, the one in which they are busy nearest to it; where none is, in one of their own.
 */
export function lanesOf(moves: readonly MoveView[], fighters: readonly string[]): Lane[] {
  const place = (name: string): number => (fighters.includes(name) ? fighters.indexOf(name) : fighters.length);
  const [paired, alone] = [
    moves.filter((move) => partnerOf(move) !== null),
    moves.filter((m) => partnerOf(m) === null),
  ];
  const lanes: Lane[] = [];
  for (const move of byTime(paired)) {
    const [one, other] = [move.who, partnerOf(move) ?? move.who].sort(
      (a, b) => place(a) - place(b) || (a < b ? -1 : 1),
    );
    if (one === undefined || other === undefined) continue;
    const theirs = lanes.filter(({ people }) => people[0] === one && people[1] === other);
    put(move, theirs.find((lane) => isFree(lane, move.at_ticks)) ?? added(lanes, [one, other]));
  }
  for (const move of byTime(alone)) {
    const theirs = lanes.filter(({ people }) => people.some((name) => name === move.who));
    const near = theirs.sort((a, b) => distance(a, move.at_ticks) - distance(b, move.at_ticks));
    put(move, near.find((lane) => isFree(lane, move.at_ticks)) ?? added(lanes, [move.who]));
  }
  const last = ({ people }: Lane): string => people[1] ?? people[0];
  return lanes.sort((a, b) => place(a.people[0]) - place(b.people[0]) || place(last(a)) - place(last(b)));
}

/** Whom a move is with; nothing where somebody acts alone. */
export function partnerOf(move: MoveView): string | null {
  return move.to === move.who ? null : move.to;
}

/** Tells the moves of a run apart. */
export function keyOf({ phrase, number, at_ticks }: MoveView): string {
  return `${phrase}.${number}.${at_ticks}`;
}

/** A row of groups: equal acts of one moment are one block, with a number. */
export interface GroupRow {
  blocks: { at_ticks: number; groups: Group[] }[];
}

/**
 * The same moves where there are more pairs than rows: each moment's equal acts as one block, the largest first. What is
 * more than there are rows stands together in the last one, so that nothing is left out.
 */
export function groupRows(moves: readonly MoveView[], most: number): GroupRow[] {
  const rows: GroupRow[] = [];
  for (const [at_ticks, now] of moments(moves)) {
    const groups = groupsOf(now);
    const own = groups.length > most ? most - 1 : groups.length;
    const blocks = groups.slice(0, own).map((group) => [group]);
    const rest = groups.slice(own);
    for (const [row, block] of [...blocks, ...(rest.length > 0 ? [rest] : [])].entries()) {
      (rows[row] ??= { blocks: [] }).blocks.push({ at_ticks, groups: block });
    }
  }
  return rows;
}

/** The moves of each moment, in the order of time. What is too near to be drawn apart is one moment. */
export function moments(moves: readonly MoveView[]): [number, MoveView[]][] {
  const found: [number, MoveView[]][] = [];
  for (const move of byTime(moves)) {
    const last = found.at(-1);
    if (last !== undefined && move.at_ticks - last[0] < LEAST_TICKS) last[1].push(move);
    else found.push([move.at_ticks, [move]]);
  }
  return found;
}

function byTime(moves: readonly MoveView[]): MoveView[] {
  return [...moves].sort((a, b) => a.at_ticks - b.at_ticks);
}

function added(lanes: Lane[], people: Lane['people']): Lane {
  const lane: Lane = { people, moves: [] };
  lanes.push(lane);
  return lane;
}

function put(move: MoveView, lane: Lane): void {
  lane.moves.splice(after(lane, move.at_ticks), 0, move);
}

function isFree(lane: Lane, ticks: number): boolean {
  return distance(lane, ticks) >= LEAST_TICKS;
}

// How far the nearest move of a lane is, ticks.
function distance(lane: Lane, ticks: number): number {
  const at = after(lane, ticks);
  const [before, next] = [lane.moves[at - 1], lane.moves[at]];
  return Math.min(ticks - (before?.at_ticks ?? -Infinity), (next?.at_ticks ?? Infinity) - ticks);
}

// The place in a lane of the first move that is later.
function after({ moves }: Lane, ticks: number): number {
  let [low, high] = [0, moves.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((moves[middle]?.at_ticks ?? Infinity) <= ticks) low = middle + 1;
    else high = middle;
  }
  return low;
}
