// The seat of one's own act: over runs made by chance it never goes solid three times in a second, never loses an act, and
// says the beats that are left.
import { describe, expect, it } from 'vitest';
import { alikeOf } from '../core/alike';
import { Caption } from '../core/caption';
import { NOTHING, type View } from '../core/model';
import { titled } from '../core/names';
import { memoryStore } from '../core/platform';
import { cellsOf, seatOf } from '../core/seat';
import { usAt } from '../core/tempo';
import type { Cue, MoveView, RunSheet, State } from '../core/wire';
import { chance } from './support/chance';
import { cue as anyCue, state } from './support/fake';

const move = (at_ticks: number, who: string, to: string | null): MoveView => ({
  phrase: 0,
  number: 1,
  at_ticks,
  beat: '1',
  who,
  action: 'cut head',
  to,
  reply: to === null ? null : 'parry 5',
  sounds: [],
  text: null,
  picture: null,
});

function sheet(moves: MoveView[], bpm: number, beats: number): RunSheet {
  const length_ticks = beats * 960;
  const phrases = [{ phrase: 0, name: 'one', at_ticks: 0, length_ticks, at_us: 0, percent: 100 }];
  const tempo = [{ at_ticks: 0, length_ticks, at_us: 0, from_bpm: bpm, to_bpm: bpm }];
  const rest = {
    fight: 'f',
    weapons: null,
    drive: 'clock' as const,
    count_in: 4,
    start_us: 0,
    pictures: null,
    floor: null,
    begins: null,
  };
  return {
    run: 1,
    generation: 1,
    revision: '',
    ...rest,
    beats_per_bar: 4,
    length_ticks,
    phrases,
    tempo,
    moves,
    fighters: [],
    near: [],
    bystanders: [],
    feet: [],
  };
}

const viewOf = (run: RunSheet, cue: Cue | null): View => ({
  ...NOTHING,
  link: 'linked',
  generation: 1,
  state: { ...(state() as State), stage: 'running' },
  run,
  shown: cue === null ? null : { cue, late_us: null, at_us: 0, again: false },
});

// The cue of a place, as the server would say it to whoever plays A.
function cueAt(run: RunSheet, at: number): Cue {
  const own = run.moves.filter(({ who, to }) => who === 'A' || to === 'A');
  const next = own.find(({ at_ticks }) => at_ticks > at);
  const read = (each: MoveView) => ({ part: each.who === 'A' ? ('act' as const) : ('answer' as const), move: each });
  const beat = Math.floor(at / 960);
  return {
    ...anyCue(0, null, 1),
    phrase: 0,
    bar: Math.floor(beat / 4) + 1,
    count: (beat % 4) + 1,
    count_in: null,
    moves: own.filter(({ at_ticks }) => at_ticks === at).map(read),
    next: next === undefined ? [] : own.filter(({ at_ticks }) => at_ticks === next.at_ticks).map(read),
    next_in_beats: next === undefined ? null : (next.at_ticks - at) / 960,
  };
}

describe('the seat', () => {
  it('turns solid at most twice in any second, shows every act on its beat, and counts down to it', () => {
    for (let seed = 1; seed <= 400; seed += 1) {
      const random = chance(seed);
      const bpm = 30 + Math.floor(random() * 270);
      const moves: MoveView[] = [];
      for (let at = 0; at < 40 * 960; at += 480)
        if (random() < 0.4)
          moves.push(random() < 0.5 ? move(at, 'A', 'B') : move(at, 'B', random() < 0.8 ? 'A' : null));
      const run = sheet(moves, bpm, 40);
      const places = [
        ...new Set([...Array.from({ length: 40 }, (_, n) => n * 960), ...moves.map((each) => each.at_ticks)]),
      ];
      places.sort((a, b) => a - b);
      let before = false;
      const turns: number[] = [];
      for (const at of places) {
        const cue = cueAt(run, at);
        const seat = seatOf(viewOf(run, cue), 'A');
        const said = `seed ${seed} at ${at}`;
        if (cue.moves.length > 0) expect([seat.due, seat.in?.at], said).toEqual([true, at]);
        if (!seat.due && seat.in !== null) expect(seat.beats, said).toBe(Math.ceil((seat.in.at - at) / 960));
        if (seat.due && !before) turns.push(usAt(run, at));
        const later = [seat.in?.at, seat.next?.at, seat.then?.at].filter((each) => each !== undefined);
        expect(
          [...later].sort((a, b) => a - b),
          said,
        ).toEqual(later);
        before = seat.due;
      }
      for (const turn of turns)
        expect(
          turns.filter((each) => each >= turn && each < turn + 999_999).length,
          `seed ${seed}`,
        ).toBeLessThanOrEqual(2);
    }
  });

  it('begins with the first act before any cue, and ends with none', () => {
    const run = sheet([move(960, 'A', 'B')], 60, 8);
    expect(seatOf(viewOf(run, null), 'A')).toMatchObject({ due: false, beats: null, in: { at: 960 } });
    expect(seatOf(viewOf(run, cueAt(run, 3 * 960)), 'A').in).toBe(null);
  });

  it('of whoever looks on has everybody who acts', () => {
    const run = sheet([move(0, 'A', 'B'), move(0, 'C', 'D')], 60, 8);
    const all = { ...cueAt(run, 0), moves: run.moves.map((each) => ({ part: 'watch' as const, move: each })) };
    expect(seatOf(viewOf(run, all), null).in?.moves.length).toBe(2);
  });
});

it('the cells are the beats of the bar that goes and of the next, each once, with one now', () => {
  const run = sheet([], 60, 16);
  const cells = cellsOf(run, cueAt(run, 5 * 960));
  expect(cells.map(({ at }) => at / 960)).toEqual([4, 5, 6, 7, 8, 9, 10, 11]);
  expect(cells.map(({ state: is }) => is)).toEqual(['gone', 'now', ...Array<string>(6).fill('coming')]);
  expect(cells.filter(({ first }) => first).map(({ at }) => at / 960)).toEqual([4, 8]);
  expect(cellsOf(run, cueAt(run, 13 * 960)).length).toBe(4);
});

it('equal acts are said once, and nobody is left out', () => {
  const moves = [move(0, 'A', 'B'), { ...move(0, 'C', 'D'), action: 'punch jaw' }, move(0, 'E', 'F')];
  const groups = alikeOf(moves);
  expect(groups.map((group) => group.moves.map(({ who }) => who))).toEqual([['A', 'E'], ['C']]);
});

it.each([
  ['MARET', 'Maret'],
  ['SOUTH 12', 'South 12'],
  ["O'NEIL-ÅS", "O'Neil-Ås"],
  ['van Dyk', 'van Dyk'],
  ['דוד', 'דוד'],
  ['', ''],
])('%s is set as %s', (name, set) => expect(titled(name)).toBe(set));

it('the caption of HOLD goes after the second day with a run', () => {
  const store = memoryStore();
  const on = (day: string): Caption => new Caption(store, () => day);
  const needed: boolean[] = [];
  for (const day of ['mon', 'tue', 'wed', 'thu']) {
    needed.push(on(day).needed);
    on(day).ran();
    needed.push(on(day).needed);
  }
  expect(needed).toEqual([true, true, true, true, false, false, false, false]);
});
