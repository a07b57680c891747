// Where somebody's feet are to be: over runs made by chance, by a reading of the walks that looks at every one.
import { describe, expect, it } from 'vitest';
import { callsOfWalk } from '../core/calls';
import { feelOf } from '../core/feel';
import { feetAt, marksOf, walksIn, wayOf } from '../core/feet';
import { nextActOf } from '../core/reading';
import { tickOf } from '../core/reading';
import type { CueWalk, FeetView, MoveView, RunSheet } from '../core/wire';
import { chance } from './support/chance';
import { cue } from './support/fake';

const walk = (who: string, at_ticks: number, until_ticks: number, rest: Partial<FeetView> = {}): FeetView => ({
  phrase: 0,
  at_ticks,
  beat: '1',
  who,
  to: { x: -1.5, y: 2 },
  further: false,
  around: null,
  facing: null,
  bearing: null,
  until_ticks,
  until: '3',
  ...rest,
});
const mark = (who: string, phrase: number, rest: Partial<FeetView> = {}): FeetView => ({
  ...walk(who, 0, 0, rest),
  phrase,
  beat: null,
  until_ticks: null,
  until: null,
});
const run = (feet: FeetView[]): RunSheet => ({
  ...{ run: 1, generation: 1, revision: '', fight: '', weapons: null, drive: 'clock', beats_per_bar: 4, count_in: 4 },
  ...{ start_us: 0, length_ticks: 96_000, tempo: [], begins: null, moves: [], fighters: ['A', 'B'], pictures: null },
  ...{ near: [], bystanders: [], floor: null },
  phrases: [{ phrase: 0, name: 'one', at_ticks: 0, length_ticks: 96_000, at_us: 0, percent: 100 }],
  feet,
});

describe('the feet of a part', () => {
  it('are the walk that goes, and the first that comes within eight beats, counted down', () => {
    for (let seed = 1; seed <= 400; seed += 1) {
      const random = chance(seed);
      const feet: FeetView[] = [];
      for (let at = 0; at < 60 * 960; at += 240 * (1 + Math.floor(random() * 20)))
        feet.push(walk(random() < 0.6 ? 'A' : 'B', at, at + 240 * (1 + Math.floor(random() * 12))));
      const sheet = run(feet);
      const at = Math.floor(random() * 60) * 960;
      const told = feetAt(sheet, 'A', at);
      const own = feet.filter(({ who }) => who === 'A');
      // The last one that was begun, while it goes; nobody walks two ways.
      const goes = own.filter((each) => each.at_ticks <= at && at < (each.until_ticks ?? 0)).at(-1) ?? null;
      expect(told.now?.walk ?? null).toBe(goes);
      if (told.now !== null) {
        expect(told.now.beats).toBeGreaterThanOrEqual(1);
        expect(at + told.now.beats * 960).toBeGreaterThanOrEqual(goes?.until_ticks ?? 0);
        expect(at + (told.now.beats - 1) * 960).toBeLessThan(goes?.until_ticks ?? 0);
      }
      const comes = own.filter((each) => each.at_ticks > at).sort((a, b) => a.at_ticks - b.at_ticks)[0];
      const near = comes !== undefined && comes.at_ticks - at <= 8 * 960;
      expect(told.next?.walk ?? null).toBe(near ? comes : null);
      expect(walksIn(sheet, 'A')).toBe(own.length > 0);
    }
  });

  it('begin on the marks of the first phrase, my own first; a run from the middle says it another way', () => {
    const feet = [mark('A', 0), mark('PELL', 0), mark('B', 0), mark('B', 1), walk('A', 960, 1_920)];
    expect(marksOf(run(feet), 'B').map(({ who }) => who)).toEqual(['B', 'A', 'PELL']);
    expect(marksOf(run(feet), null).map(({ who }) => who)).toEqual(['A', 'PELL', 'B']);
    expect(marksOf({ ...run(feet), begins: { number: 2, beat: '3', stands: [] } }, 'B')).toEqual([]);
  });

  it('are said from the stage', () => {
    // Stage left is the left of somebody who faces the audience (common usage, from memory); x grows to audience right.
    expect(wayOf(mark('A', 0, { facing: 'B' }))).toBe('1.5 m stage right, 2 m up, facing B');
    expect(wayOf(walk('A', 0, 960, { further: true, to: { x: 1, y: -0.5 } }))).toBe(
      'walk 1 m stage left, 0.5 m downstage further',
    );
    const around = { centre: { x: 0, y: 2 }, way: 'clockwise' as const };
    expect(wayOf(walk('A', 0, 960, { around }))).toContain('clockwise in a circle around centre, 2 m up');
  });
});

describe('a cue with a walk', () => {
  const mine: CueWalk = { part: 'act', walk: walk('A', 1_920, 3_840) };
  const move: MoveView = {
    ...{ phrase: 0, number: 1, at_ticks: 3_840, beat: '5', who: 'A', action: 'cut head', to: 'B', reply: 'parry 5' },
    ...{ sounds: [], text: null, picture: null },
  };

  it('says what comes first: the walk, the move, or both at once', () => {
    const both = { ...cue(1, 0), next: [{ part: 'act' as const, move }], next_in_beats: 3, next_walks: [mine] };
    const first = nextActOf({ ...both, next_walk_in_beats: 1 });
    expect(first).toEqual({ at: 1_920, beats: 1, moves: [], walks: [mine] });
    expect(nextActOf({ ...both, next_walk_in_beats: 4 })).toEqual({ at: 3_840, beats: 3, moves: both.next, walks: [] });
    expect(nextActOf({ ...both, next_walk_in_beats: 3 })?.walks).toEqual([mine]);
    expect(nextActOf({ ...both, next: [], next_in_beats: null, next_walk_in_beats: 2.25 })?.beats).toBe(3);
    expect(nextActOf(cue(1, 0))).toBe(null);
  });

  it('is felt as what I do alone, and of others as others', () => {
    expect(feelOf({ ...cue(1, 0), walks: [mine] })).toBe('alone');
    expect(feelOf({ ...cue(1, 0), walks: [{ ...mine, part: 'watch' }] })).toBe('others');
    expect(feelOf({ ...cue(1, 0), walks: [mine], moves: [{ part: 'answer', move }] })).toBe('reply');
  });

  it('is called by where it leads, and shorter where there is no time', () => {
    expect(callsOfWalk([mine])).toEqual(['walk to 1.5 stage right, 2 upstage', 'walk']);
    const further = { ...mine, walk: walk('A', 0, 960, { further: true, to: { x: 0, y: -1 } }) };
    expect(callsOfWalk([further])[0]).toBe('walk 1 downstage further');
    expect(callsOfWalk([{ ...mine, walk: walk('A', 0, 960, { to: { x: 0, y: 0 } }) }])[0]).toBe('walk to the middle');
    expect(callsOfWalk([])).toEqual([]);
  });

  it('has its place where no move says it, as in a walk-through', () => {
    expect(tickOf(run([]), { ...cue(1, null), walks: [mine], next: [], next_in_beats: null })).toBe(1_920);
  });
});
