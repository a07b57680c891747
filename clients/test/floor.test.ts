// Where everybody is on the plan: held to what the server's own tracks say (tests/vectors/floor.json, written by
// tests/it/floor.rs from `Tracks::presence`), to a run's place at any speed, and to what a page can vouch for.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { along, nearestBetween, presenceAt, secondsIn, secondsOf, sweepsAt } from '../core/floor';
import { partnerAt, standingAt } from '../core/floor-place';
import { NOTHING, type View } from '../core/model';
import type { FloorSheet, RunSheet, Stage } from '../core/wire';
import { run as sheet, state } from '../browser/support/pretend';
import { withMark, withPlace, written } from '../score/marks';
import type { DraftMark } from '../core/wire';

interface Sample {
  at: [number, number];
  facing: number | null;
  pose: string;
  radius: number;
  blade: [number, number, number, number] | null;
}
interface Case {
  sheet: FloorSheet;
  samples: [number, number, Sample | null][];
}

const cases = JSON.parse(readFileSync(join(import.meta.dirname, '../../tests/vectors/floor.json'), 'utf8')) as Case[];
const far = ([x, y]: readonly [number, number], [a, b]: readonly [number, number]): number => Math.hypot(x - a, y - b);

describe('the twin of the tracks', () => {
  it.each(cases.map((each) => [each.sheet.phrases[0]?.name, each] as const))(
    'agrees within a centimetre: %s',
    (_, { sheet, samples }) => {
      expect(samples.length).toBeGreaterThan(50);
      let blades = 0;
      for (const [time, person, expected] of samples) {
        const found = presenceAt(sheet, person, time);
        const what = `${sheet.people[person]?.who} at ${time}`;
        expect(found === null, what).toBe(expected === null);
        if (found === null || expected === null) continue;
        expect(far(found.at, expected.at), what).toBeLessThan(0.01);
        expect(found.pose, what).toBe(expected.pose);
        expect(found.radius, what).toBeCloseTo(expected.radius, 2);
        expect(found.facing === null, what).toBe(expected.facing === null);
        // A degree of a look is a centimetre at arm's length.
        const turn = ((found.facing ?? 0) - (expected.facing ?? 0) + 540) % 360;
        expect(Math.abs(turn - 180), what).toBeLessThan(0.5);
        expect(found.blade === null, what).toBe(expected.blade === null);
        if (found.blade === null || expected.blade === null) continue;
        blades += 1;
        const [guardX, guardY, pointX, pointY] = expected.blade;
        expect(far(along(found.at, found.blade.bearing, found.blade.guard), [guardX, guardY]), what).toBeLessThan(0.02);
        expect(far(along(found.at, found.blade.bearing, found.blade.point), [pointX, pointY]), what).toBeLessThan(0.02);
      }
      expect(blades).toBeGreaterThan(10);
    },
  );

  it('finds what is swept, and nothing before and after', () => {
    for (const { sheet } of cases) {
      for (const sweep of sheet.sweeps) {
        expect(sweepsAt(sheet, sweep.beat)).toContainEqual(sweep);
        expect(sweepsAt(sheet, sweep.from - 0.01)).not.toContainEqual(sweep);
        expect(sweepsAt(sheet, sweep.until + 0.01)).not.toContainEqual(sweep);
      }
    }
  });

  it('has the nearest of what has been so far, and no more', () => {
    const [, cellar] = cases;
    const sheet = cellar?.sheet;
    if (sheet === undefined) throw new Error('no case');
    const [first] = sheet.approaches;
    expect(first).toBeDefined();
    expect(nearestBetween(sheet, 0, (first?.at ?? 0) - 0.001)).toBeNull();
    const all = nearestBetween(sheet, 0, Infinity);
    expect(all?.gap).toBe(Math.min(...sheet.approaches.map(({ gap }) => gap)));
  });
});

describe('a place of a run', () => {
  const floor = cases[0]?.sheet;
  if (floor === undefined) throw new Error('no case');
  const [one, two] = floor.phrases;
  if (one === undefined || two === undefined) throw new Error('two phrases');

  it('is the same place of the fight, whichever phrases are run', () => {
    const phrase = { phrase: 1, name: two.name, at_ticks: 0, length_ticks: two.length_ticks, at_us: 0, percent: 50 };
    const run = { phrases: [phrase] };
    for (const ticks of [0, 960, 2_400]) {
      expect(secondsIn(floor, run, ticks)).toBeCloseTo(secondsOf(floor, two.at_ticks + ticks), 9);
    }
    // In the count-in it is where the run begins.
    expect(secondsIn(floor, run, -3_840)).toBeCloseTo(secondsOf(floor, two.at_ticks), 9);
  });

  it('is late in the phrase where the run begins in the middle of it', () => {
    const rest = two.length_ticks - 2_880;
    const run = { phrases: [{ phrase: 1, name: two.name, at_ticks: 0, length_ticks: rest, at_us: 0, percent: 100 }] };
    expect(secondsIn(floor, run, 0)).toBeCloseTo(secondsOf(floor, two.at_ticks + 2_880), 9);
  });
});

describe('the picture', () => {
  const run: RunSheet = { ...sheet, start_us: 10_000_000 };
  const at = (stage: Stage, more: Partial<View> = {}): View => ({
    ...NOTHING,
    link: 'linked',
    generation: 4,
    state: { ...state, stage, generation: 4 },
    run,
    ...more,
  });
  const BEATS_3 = 10_000_000 + 3 * 1_200_000;

  it('moves while a run goes on a clock that is known', () => {
    const { ticks, ...standing } = standingAt(at('running'), BEATS_3);
    expect(ticks).toBeCloseTo(2_880, 6);
    expect(standing).toEqual({ first: false, still: null });
  });

  it.each([
    ['no-link', at('running', { link: 'lost' })],
    ['unknown', at('running', { generation: 5 })],
    ['held', at('running', { tap: 'sending' })],
    ['held', at('running', { tap: 'untold' })],
    ['held', at('held')],
    ['stopped', at('stopped')],
  ])('stands still: %s', (still, view) => {
    const standing = standingAt(view, BEATS_3);
    expect(standing.still).toBe(still);
    // Only who has drawn nothing yet is shown another place than the last.
    expect(standing.ticks === null || standing.first).toBe(true);
  });

  it('stands still where the clock is not known', () => {
    expect(standingAt(at('running'), null)).toEqual({ ticks: null, first: true, still: 'no-clock' });
    expect(standingAt(at('running', { run: { ...run, start_us: null } }), BEATS_3).still).toBe('no-clock');
  });

  it('is never before the first mark nor after the end', () => {
    expect(standingAt(at('running'), 0).ticks).toBe(0);
    expect(standingAt(at('running'), 1e12).ticks).toBe(run.length_ticks);
    expect(standingAt(at('places'), BEATS_3)).toEqual({ ticks: 0, first: false, still: 'waits' });
  });

  it('knows with whom somebody has to do next', () => {
    expect(partnerAt(run.moves, 'MARET', 0)).toBe('OSK');
    expect(partnerAt(run.moves, null, 0)).toBeNull();
    expect(partnerAt(run.moves, 'MARET', 100_000)).toBeNull();
  });
});

describe('marks in the text', () => {
  const text =
    'phrase "One"\n  place MARET  -1.1,3.0   facing OSK  # near the lamp\n  place OSK     1.1,3 facing MARET\n';
  const marked = (point: string, who: string, line: number): DraftMark => {
    const from = text.lastIndexOf(point);
    const [x = 0, y = 0] = point.split(',').map(Number);
    return { phrase: 0, who, beat: null, line, from, to: from + point.length, x, y };
  };
  const marks = [marked('-1.1,3.0', 'MARET', 2), marked('1.1,3', 'OSK', 3)];

  it('change where they stand, and nothing else does', () => {
    const one = withPlace({ text, marks }, 0, [0.5, 2.25]);
    expect(one.text).toBe(text.replace(' -1.1,3.0 ', '  0.5,2.25'));
    const two = withPlace(one, 1, [-0.3, 4]);
    expect(two.text).toBe(one.text.replace('    1.1,3 f', '   -0.3,4.0 f'));
    for (const { from, to, x, y } of two.marks) expect(two.text.slice(from, to)).toBe(written(x, y));
  });

  it('can be moved any number of times and are still where they are said to be', () => {
    let now = withPlace(withPlace({ text, marks }, 0, [1, 1]), 1, [1, 1]);
    for (let n = 0; n < 200; n += 1) {
      now = withPlace(now, n % 2, [((n * 37) % 400) / 10 - 20, ((n * 53) % 3_000) / 100 - 15]);
      for (const { from, to, x, y } of now.marks) expect(now.text.slice(from, to)).toBe(written(x, y));
    }
    const plain = (each: string): string => each.replace(/ *-?[\d.]+,-?[\d.]+ */g, ' ');
    expect(plain(now.text)).toBe(plain(text));
  });

  it('are written to the centimetre, without a minus for nothing', () => {
    expect([written(-0.001, 3), written(1.005, -2.5), written(12, 0.25)]).toEqual(['0.0,3.0', '1.0,-2.5', '12.0,0.25']);
  });

  it('are set below those of their phrase', () => {
    expect(withMark(text, 1, marks, 'TAM', 0, 2).split('\n')[3]).toBe('  place TAM 0.0,2.0');
    expect(withMark('phrase "One"\n  1 A rest\n', 1, [], 'A', -1, 2)).toBe(
      'phrase "One"\n  place A -1.0,2.0\n  1 A rest\n',
    );
  });
});
