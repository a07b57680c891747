// What passes near who only stands by: over runs made by chance, by a reading that looks at all of it.
import { describe, expect, it } from 'vitest';
import { nearestOf, passingAt, standsBy } from '../core/near';
import type { BesideView, NearView, RunSheet } from '../core/wire';
import { words } from '../core/words/standing-by';
import { words as german } from '../core/words/de';
import { chance } from './support/chance';

const SIDES: BesideView[] = ['front', 'right', 'behind', 'left', 'upstage', 'stage-left', 'downstage', 'stage-right'];

const near = (who: string, at_ticks: number, metres = 1.2): NearView => ({
  phrase: 0,
  at_ticks,
  beat: '1',
  who,
  by: 'MARET',
  action: 'cut flank left',
  metres,
  side: 'left',
});
const run = (all: NearView[]): RunSheet => ({
  ...{ run: 1, generation: 1, revision: '', fight: '', weapons: null, drive: 'clock', beats_per_bar: 4, count_in: 4 },
  ...{ start_us: 0, length_ticks: 96_000, tempo: [], begins: null, moves: [], feet: [], pictures: null, floor: null },
  phrases: [{ phrase: 0, name: 'one', at_ticks: 0, length_ticks: 96_000, at_us: 0, percent: 100 }],
  fighters: ['MARET', 'OSK'],
  near: all,
  bystanders: ['PELL', 'KEM'],
});

describe('what passes near a bystander', () => {
  it('is told from eight beats before until a beat after, the soonest first, to whom it passes alone', () => {
    for (let seed = 1; seed <= 300; seed += 1) {
      const random = chance(seed);
      const all: NearView[] = [];
      for (let at = 0; at < 40 * 960; at += 240 * (1 + Math.floor(random() * 24)))
        all.push(near(random() < 0.6 ? 'PELL' : 'KEM', at));
      const at = Math.floor(random() * 40 * 4) * 240;
      const told = passingAt(run(all), 'PELL', at);
      const expected = all.filter(
        (each) => each.who === 'PELL' && each.at_ticks > at - 960 && each.at_ticks <= at + 8 * 960,
      );
      expect(told.map((each) => each.near)).toEqual(expected.slice(0, 2));
      for (const { near: it, beats } of told) {
        expect(beats >= 0 && beats * 960 >= it.at_ticks - at && (beats - 1) * 960 < it.at_ticks - at).toBe(
          it.at_ticks >= at || beats === 0,
        );
      }
    }
  });

  it('is told of the whole run with the nearest first', () => {
    const sheet = run([near('PELL', 0, 1.1), near('KEM', 0, 0.2), near('PELL', 960, 0.4)]);
    expect(nearestOf(sheet, 'PELL').map(({ metres }) => metres)).toEqual([0.4, 1.1]);
    expect([standsBy(sheet, 'PELL'), standsBy(sheet, 'MARET'), standsBy(sheet, null)]).toEqual([true, false, false]);
  });

  it('has a sentence for every side, in both languages', () => {
    for (const { standingBy } of [words, german]) {
      const said = SIDES.map((side) => standingBy.passes('Maret', 'cut head', 1.24, side));
      expect(new Set(said).size).toBe(SIDES.length);
    }
    expect(words.standingBy.passes('Maret', 'cut head', 1.24, 'left')).toBe(
      'Maret’s cut head passes 1.2\u00a0m from you, on your left',
    );
    expect(words.standingBy.passes('Maret', null, 0.5, 'front')).toBe(
      'Maret walks past, 0.5\u00a0m from you, in front of you',
    );
    expect(words.standingBy.passes('Maret', 'cut head', 0.01, 'left')).toBe('Maret’s cut head reaches where you stand');
  });
});
