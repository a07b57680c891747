// The clock estimator: its Rust twin's recorded exchanges, and its promise under random networks.
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { ClockEstimator } from '../core/clock';
import { StallWatch } from '../core/stall';
import { chance } from './support/chance';

interface Case {
  name: string;
  exchanges: [number, number, number, number][];
  at: number;
  offset_us: number | null;
  bound_us: number | null;
  round_trip_us: number | null;
  skew_ppb: number | null;
  skew_within_ppb: number | null;
  /** How long the next wait is, in a run and outside of one. */
  ask_ms: [number, number];
  /** Set where the questions were asked as members ask. */
  in_a_run: boolean | null;
}

const file = new URL('../../tests/vectors/clock.json', import.meta.url);
const { cases } = JSON.parse(readFileSync(file, 'utf8')) as { cases: Case[] };

describe('the clock', () => {
  it.each(cases)('agrees with its twin: $name', (known) => {
    const clock = new ClockEstimator();
    for (const exchange of known.exchanges) clock.add(...exchange);
    const { offset_us, bound_us, round_trip_us } = known;
    expect(clock.estimate(known.at)).toEqual(offset_us === null ? null : { offset_us, bound_us, round_trip_us });
    const { skew_ppb: ppb, skew_within_ppb: within_ppb } = known;
    expect(clock.skew()).toEqual(ppb === null ? null : { ppb, within_ppb });
    expect([true, false].map((inARun) => clock.askEveryMs(inARun))).toEqual(known.ask_ms);
  });

  const scheduled = cases.filter((each) => each.in_a_run !== null);
  it.each(scheduled)('asks when its twin asks: $name', ({ exchanges, in_a_run }) => {
    const clock = new ClockEstimator();
    const coming = [...exchanges];
    let asked = exchanges[0]?.[0] ?? 0;
    for (const [sent] of exchanges.slice(1)) {
      // The question goes out when its wait is over, by what was known then; an answer may have shortened it.
      let at = asked + clock.askEveryMs(in_a_run === true) * 1_000;
      for (let next = coming[0]; next !== undefined && next[3] <= at; next = coming[0]) {
        clock.add(...next);
        coming.shift();
        at = Math.max(asked + clock.askEveryMs(in_a_run === true) * 1_000, asked);
      }
      expect(sent).toBe(at);
      asked = sent;
    }
  });

  it('has the numbers of the worked example of RFC 5905, section 8: one hour ahead, two seconds of delay', () => {
    const clock = new ClockEstimator();
    const [ten, eleven] = [36_000_000_000, 39_600_000_000];
    clock.add(ten, eleven + 1_000_000, eleven + 2_000_000, ten + 3_000_000);
    const known = clock.estimate(ten + 3_000_000);
    expect(known).toEqual({ offset_us: 3_600_000_000, bound_us: 1_001_501, round_trip_us: 2_000_000 });
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
        expect(Math.abs((known?.offset_us ?? 0) - offset), `seed ${seed}`).toBeLessThanOrEqual(known?.bound_us ?? 0);
        now += 125_000;
      }
    }
  });

  it('sees from one word of the server that this machine slept', () => {
    const clock = new ClockEstimator();
    clock.add(0, 1_000_000, 1_000_000, 10_000);
    expect(clock.couldBe(1_500_000, -Infinity, 510_000)).toBe(true);
    expect(clock.couldBe(3_601_500_000, -Infinity, 510_000)).toBe(false);
    expect(clock.couldBe(100, 10_000, 510_000)).toBe(false);
  });
});

describe('the watch over this clock', () => {
  const look = (beforeUs: number, wallUs: number, afterUs = beforeUs) => ({ beforeUs, wallUs, afterUs });

  it('notices a clock that stood still for 10 ms, and no rounding', () => {
    const watch = new StallWatch();
    expect(watch.stoodStill(look(1_000, 5_000_000))).toBe(false);
    expect(watch.stoodStill(look(2_000, 5_010_999))).toBe(false);
    expect(watch.stoodStill(look(3_000, 5_022_000))).toBe(true);
    expect(watch.stoodStill(look(4_000, 5_023_000))).toBe(false);
  });

  it('blames no clock when the look itself was held up, or when the wall clock was set back', () => {
    const watch = new StallWatch();
    watch.stoodStill(look(1_000, 5_000_000));
    expect(watch.stoodStill(look(2_000, 5_050_000, 52_000))).toBe(false);
    expect(watch.stoodStill(look(53_000, 5_052_000))).toBe(false);
    expect(watch.stoodStill(look(54_000, 1_000_000))).toBe(false);
  });
});
