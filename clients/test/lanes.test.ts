// Lanes: no two moves of one come at the same time, every move is in exactly one, a pair stays where it is. Over runs of
// chance, in which people change partners, act alone, and do several things at once.
import { describe, expect, it } from 'vitest';
import { TICKS_PER_BEAT, type MoveView, type RunSheet } from '../core/wire';
import { barBegins, bars } from '../desk/bars';
import { comingBeats, groupsOf } from '../desk/groups';
import { groupRows, keyOf, LEAST_TICKS, lanesOf, moments, partnerOf } from '../desk/lanes';
import { heightOf, layoutOf } from '../desk/layout';
import { chance } from './support/chance';

const NAMES = ['Hobb', 'Wren', 'Tommy', 'Silas', 'Maren', 'Joss', 'Edda'];
const RUNS = 400;

function move(number: number, at_ticks: number, who: string, to: string | null, action = 'cut head'): MoveView {
  const beat = String(at_ticks / TICKS_PER_BEAT + 1);
  const reply = to === null ? null : 'parry 5';
  return { phrase: 0, number, at_ticks, beat, who, action, to, reply, sounds: [], text: null, picture: null };
}

// A run of chance: half beats, quarters and less apart, some at once.
function any(seed: number): MoveView[] {
  const random = chance(seed);
  const pick = <T>(of: readonly T[]): T => of[Math.floor(random() * of.length)] as T;
  const people = NAMES.slice(0, 2 + Math.floor(random() * (NAMES.length - 1)));
  let at = 0;
  return Array.from({ length: 1 + Math.floor(random() * 60) }, (_, n) => {
    at += pick([0, 0, 0, 40, 120, 240, 480, 960, 960, 3_840]);
    const who = pick(people);
    const to = random() < 0.2 ? null : pick(people.filter((name) => name !== who));
    return move(n + 1, at, who, to, pick(['cut head', 'thrust belly', 'slash feet']));
  });
}

const seeds = Array.from({ length: RUNS }, (_, seed) => seed + 1);

describe('lanes of any run', () => {
  it('have every move in exactly one of them', () => {
    for (const seed of seeds) {
      const moves = any(seed);
      const drawn = lanesOf(moves, NAMES).flatMap((lane) => lane.moves.map(keyOf));
      expect(drawn.toSorted(), `seed ${seed}`).toEqual(moves.map(keyOf).toSorted());
    }
  });

  it('never have two moves at the same time', () => {
    for (const seed of seeds) {
      for (const { moves } of lanesOf(any(seed), NAMES)) {
        for (const [n, next] of moves.entries()) {
          const before = moves[n - 1];
          if (before !== undefined)
            expect(next.at_ticks - before.at_ticks, `seed ${seed}`).toBeGreaterThanOrEqual(LEAST_TICKS);
        }
      }
    }
  });

  it('hold only what their own people do', () => {
    for (const seed of seeds) {
      for (const { people, moves } of lanesOf(any(seed), NAMES)) {
        for (const each of moves) {
          const partner = partnerOf(each);
          if (partner === null) expect(people).toContain(each.who);
          else expect([...people].toSorted(), `seed ${seed}`).toEqual([each.who, partner].toSorted());
        }
      }
    }
  });

  it('are one for a pair, unless it does several things at once', () => {
    for (const seed of seeds) {
      const moves = any(seed);
      const paired = moves.filter((each) => partnerOf(each) !== null);
      const named = (people: readonly (string | null)[]): string => people.toSorted().join();
      const lanes = lanesOf(moves, NAMES);
      for (const pair of new Set(paired.map((each) => named([each.who, each.to])))) {
        const theirs = paired.filter((each) => named([each.who, each.to]) === pair);
        const near = (each: MoveView): number =>
          theirs.filter(({ at_ticks }) => at_ticks <= each.at_ticks && at_ticks > each.at_ticks - LEAST_TICKS).length;
        const atOnce = Math.max(...theirs.map(near));
        const own = lanes.filter(({ people }) => named(people) === pair);
        expect(own.length, `seed ${seed}: ${pair}`).toBe(atOnce);
      }
    }
  });

  it('stand in the order of the score, a pair’s beside each other', () => {
    for (const seed of seeds) {
      const order = lanesOf(any(seed), NAMES).map(({ people }) => people.map((name) => NAMES.indexOf(name)));
      const sorted = order.toSorted((a, b) => (a[0] ?? 0) - (b[0] ?? 0) || (a.at(-1) ?? 0) - (b.at(-1) ?? 0));
      expect(order, `seed ${seed}`).toEqual(sorted);
    }
  });
});

it('one who fights two others has a lane with each', () => {
  const moves = [move(1, 0, 'Hobb', 'Wren'), move(2, 0, 'Hobb', 'Tommy'), move(3, 960, 'Wren', 'Hobb')];
  expect(lanesOf(moves, NAMES).map(({ people, moves: own }) => [people, own.map(({ number }) => number)])).toEqual([
    [
      ['Hobb', 'Wren'],
      [1, 3],
    ],
    [['Hobb', 'Tommy'], [2]],
  ]);
});

describe('groups of any run, in however few rows', () => {
  it('leave nothing out and put nothing twice', () => {
    for (const seed of seeds) {
      const moves = any(seed);
      for (const most of [1, 2, 3, 15]) {
        const rows = groupRows(moves, most);
        expect(rows.length).toBeLessThanOrEqual(most);
        const drawn = rows.flatMap(({ blocks }) => blocks.flatMap(({ groups }) => groups.flatMap((it) => it.moves)));
        expect(drawn.map(keyOf).toSorted(), `seed ${seed}`).toEqual(moves.map(keyOf).toSorted());
      }
    }
  });

  it('are never two in one place', () => {
    for (const seed of seeds) {
      for (const { blocks } of groupRows(any(seed), 3)) {
        for (const [n, { at_ticks }] of blocks.entries()) {
          const before = blocks[n - 1];
          if (before !== undefined)
            expect(at_ticks - before.at_ticks, `seed ${seed}`).toBeGreaterThanOrEqual(LEAST_TICKS);
        }
      }
    }
  });

  it('say equal acts once, the most of them first', () => {
    const moves = [
      move(1, 0, 'Hobb', 'Wren', 'thrust belly'),
      move(2, 0, 'Tommy', 'Silas'),
      move(3, 0, 'Maren', 'Joss'),
    ];
    expect(groupsOf(moves).map(({ action, moves: own }) => [action, own.length])).toEqual([
      ['cut head', 2],
      ['thrust belly', 1],
    ]);
    expect(moments(moves)).toEqual([[0, moves]]);
  });
});

const sheet = (moves: MoveView[], more: Partial<RunSheet> = {}): RunSheet => ({
  run: 1,
  generation: 1,
  revision: '',
  begins: null,
  fight: '',
  weapons: null,
  drive: 'clock',
  beats_per_bar: 4,
  count_in: 4,
  start_us: null,
  length_ticks: 9_600,
  phrases: [
    { phrase: 0, name: 'One', at_ticks: 0, length_ticks: 5_760, at_us: 0, percent: 100 },
    { phrase: 1, name: 'Two', at_ticks: 5_760, length_ticks: 3_840, at_us: 6_000_000, percent: 100 },
  ],
  tempo: [{ at_ticks: 0, length_ticks: 9_600, at_us: 0, from_bpm: 60, to_bpm: 60 }],
  moves,
  fighters: NAMES,
  feet: [],
  near: [],
  bystanders: [],
  pictures: null,
  floor: null,
  ...more,
});

it('two rows a pair while there are few, a row a pair then, and groups where even those are too many', () => {
  const pairs = (count: number): MoveView[] =>
    Array.from({ length: count }, (_, n) => move(n + 1, 0, `North ${n}`, `South ${n}`));
  const kinds = [1, 3, 4, 15, 16].map((count) => layoutOf(sheet(pairs(count)), 15));
  expect(kinds.map(({ kind }) => kind)).toEqual(['pairs', 'pairs', 'lanes', 'lanes', 'groups']);
  // Fifteen rows of 24 px, and the line above them.
  expect(kinds[3] && heightOf(kinds[3])).toBe(15 * 24 + 26);
});

it('bars begin anew with each phrase, and the count-in has bars as well', () => {
  const run = sheet([]);
  // 60 a minute: a beat is a second. The first phrase has six beats, so its second bar has two.
  const begins = [0, 3.9, 4, 5.9, 6, 9.99, 10, -0.5, -4].map((second) => barBegins(run, second * 1e6) / 1e6);
  for (const [n, want] of [0, 0, 4, 4, 6, 6, 10, -4, -4].entries()) expect(begins[n]).toBeCloseTo(want, 6);
  expect(bars(run)).toEqual([0, 3_840, 5_760]);
});

it('the next beats with something on them, however much that is', () => {
  const moves = [0, 960, 960, 960, 2_400, 4_800].map((at, n) => move(n + 1, at, 'Hobb', 'Wren'));
  const cue = {
    ...{ run: 1, generation: 1, step: 0, cue: 1, due_us: 0, phrase: 0, phrase_name: '', beat: '1', bar: 1, count: 1 },
    ...{ count_in: null, click: 'beat' as const, moves: [], next_in_beats: 1 },
    ...{ walks: [], next_walks: [], next_walk_in_beats: null },
    next: moves.slice(1, 4).map((each) => ({ part: 'watch' as const, move: each })),
  };
  const seen = comingBeats(moves, cue, 3).map(({ beats, moves: own }) => [beats, own.length]);
  expect(seen).toEqual([
    [1, 3],
    [3, 1],
    [5, 1],
  ]);
  expect(comingBeats(moves, null, 2).map(({ beats, moves: own }) => [beats, own.length])).toEqual([
    [null, 1],
    [null, 3],
  ]);
  expect(comingBeats(moves, { ...cue, next: [], next_in_beats: null }, 3)).toEqual([]);
});
