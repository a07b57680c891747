// The clock estimator: its Rust twin's recorded exchanges, and its promise under random networks.
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { ClockEstimator } from '../core/clock';
import { chance } from './support/chance';

interface Case {
  name: string;
  exchanges: [number, number, number, number][];
  at: number;
  offset_us: number | null;
  bound_us: number | null;
  round_trip_us: number | null;
}

const file = new URL('../../tests/vectors/clock.json', import.meta.url);
const { cases } = JSON.parse(readFileSync(file, 'utf8')) as { cases: Case[] };

describe('the clock', () => {
  it.each(cases)('agrees with its twin: $name', ({ exchanges, at, offset_us, bound_us, round_trip_us }) => {
    const clock = new ClockEstimator();
    for (const exchange of exchanges) clock.add(...exchange);
    const known = clock.estimate(at);
    const expected = offset_us === null ? null : { offset_us, bound_us, round_trip_us };
    expect(known).toEqual(expected);
  });

  it('has the numbers of the worked example of RFC 5905, section 8: one hour ahead, two seconds of delay', () => {
    const clock = new ClockEstimator();
    const [ten, eleven] = [36_000_000_000, 39_600_000_000];
    clock.add(ten, eleven + 1_000_000, eleven + 2_000_000, ten + 3_000_000);
    const known = clock.estimate(ten + 3_000_000);
    expect(known).toEqual({ offset_us: 3_600_000_000, bound_us: 1_000_000, round_trip_us: 2_000_000 });
  });

  it('is never wrong by more than its bound, whatever the network does', () => {
    for (let seed = 1; seed <= 200; seed += 1) {
      const random = chance(seed);
      const clock = new ClockEstimator();
      const offset = Math.floor(random() * 1e12);
      let now = 0;
      for (let n = 0; n < 60; n += 1) {
        const [out, held, back] = [random() ** 4 * 80_000, random() * 500, random() ** 4 * 80_000].map(Math.ceil);
        const [t1, t2] = [now, now + offset + (out ?? 0)];
        const t3 = t2 + (held ?? 0);
        now = t3 - offset + (back ?? 0);
        clock.add(t1, t2, t3, now);
        const known = clock.estimate(now);
        expect(known, `seed ${seed}`).not.toBeNull();
        expect(Math.abs((known?.offset_us ?? 0) - offset), `seed ${seed}`).toBeLessThanOrEqual(
          (known?.bound_us ?? 0) + 1,
        );
        now += 125_000;
      }
    }
  });

  it('sees from one word of the server that this machine slept', () => {
    const clock = new ClockEstimator();
    clock.add(0, 1_000_000, 1_000_000, 10_000);
    expect(clock.couldBe(1_500_000, 510_000)).toBe(true);
    expect(clock.couldBe(3_601_500_000, 510_000)).toBe(false);
  });
});
