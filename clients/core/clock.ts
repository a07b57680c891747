// How far the server's clock is from this one, from four-timestamp exchanges (the offset and delay of RFC 5905, section
// 8), and how wrong that can be. The bound rests only on what cannot be otherwise; the offset within it follows the
// likeliest line. An asymmetric path hides inside the bound; nothing here can see it. The rules stand at the head of
// `src/clock/estimator.rs`, this one's twin, and both are tested on the same exchanges, `tests/vectors/clock.json`.
import { lineThrough, type Line } from './line';
import {
  ASK_AT_FIRST_US,
  ASK_IN_A_RUN_US,
  ASK_ON_UNEVEN_US,
  ASK_OTHERWISE_US,
  CLOCK_WINDOW_US,
  DRIFT_PPM,
  FIRST_EXCHANGES,
  READING,
  UNEVEN,
} from './wire';

/** What is known of the server's clock at a moment. Whole microseconds. */
export interface Estimate {
  /** Server time less local time. */
  offset_us: number;
  /** The offset is wrong by no more than this. */
  bound_us: number;
  /** The best round trip that recent exchanges had. */
  round_trip_us: number;
}

/** How fast the two clocks part, parts in a thousand million. */
export interface Skew {
  /** How much faster the server's clock runs. */
  ppb: number;
  /** The skew is wrong by no more than this, as long as the clocks part at one rate. */
  within_ppb: number;
}

interface Exchange {
  /** T1, local time. */
  sent: number;
  /** T4, local time. */
  returned: number;
  /** T2 − T1: the offset and the way out. */
  out: number;
  /** T4 − T3: the way back less the offset. */
  back: number;
}

interface Enclosure {
  most: number;
  least: number;
  roundTrip: number;
}

/** The estimator. */
export class ClockEstimator {
  #kept: Exchange[] = [];
  #line: { at: number; base: number; line: Line } | null = null;
  #gathered = 0;
  #notBefore = -Infinity;

  /**
   * Takes in an exchange at the moment of its answer: asked at `t1` and answered at `t4` on the local clock, received at
   * `t2` and answered at `t3` on the server's, microseconds. One that cannot have happened, or was asked before
   * everything was forgotten, is left out.
   */
  add(t1: number, t2: number, t3: number, t4: number): void {
    // The local clock went back: what was ahead of it says nothing any more.
    if (t4 < this.#notBefore) this.#notBefore = -Infinity;
    const taken = { sent: t1, returned: t4, out: t2 - t1, back: t4 - t3 };
    const sane = [t1, t2, t3, t4].every(Number.isSafeInteger) && t4 >= t1 && t3 >= t2;
    if (!sane || taken.out + taken.back < -READING || t1 < this.#notBefore) return;
    this.#kept = this.#kept.filter((kept) => kept.returned <= t4 && counts(kept, t4));
    // No offset explains both: one of the clocks has stepped (a laptop slept, the server started again), so what was
    // measured before says nothing any more.
    const both = enclosure([...this.#kept, taken], t4);
    if (both !== null && both.most < both.least) this.#kept = [];
    if (this.#kept.length === 0) this.#gathered = 0;
    this.#kept.push(taken);
    this.#gathered += 1;
    this.#line = this.#anchored(taken);
  }

  /** What is known at `now` (local microseconds); nothing before the first exchange, or half a minute after the last. */
  estimate(now: number): Estimate | null {
    const known = enclosure(this.#kept, now);
    if (known === null) return null;
    const { most, least, roundTrip } = known;
    const offset = Math.max(Math.min(this.#likely(now) ?? Math.floor((most + least) / 2), most), least);
    return {
      offset_us: offset,
      bound_us: Math.max(most - offset, offset - least),
      round_trip_us: Math.max(0, roundTrip),
    };
  }

  /** How fast the two clocks part; nothing before the first exchange. */
  skew(): Skew | null {
    if (this.#line === null) return null;
    const { skew, leastSkew, mostSkew } = this.#line.line;
    const ppb = (each: number): number => Math.floor(each * 1e9 + 0.5);
    return { ppb: ppb(skew), within_ppb: ppb(Math.max(mostSkew - skew, skew - leastSkew)) };
  }

  /**
   * True unless what is known rules out that the server read its clock as `serverUs` between these two local moments.
   * A message that was sent "in the future" gives away a clock that slept.
   */
  couldBe(serverUs: number, earliest: number, latest: number): boolean {
    const known = this.estimate(latest);
    if (known === null) return true;
    const { offset_us: offsetUs, bound_us: boundUs } = known;
    return serverUs >= earliest + offsetUs - boundUs && serverUs <= latest + offsetUs + boundUs;
  }

  /** Drops everything: at `now` it is known that a clock stood still, or is another one than before. */
  forget(now: number): void {
    this.#kept = [];
    this.#line = null;
    this.#gathered = 0;
    this.#notBefore = now;
  }

  /** How long to wait between two exchanges, in a run or outside of one, milliseconds. */
  askEveryMs(inARun: boolean): number {
    return this.#askEveryUs(inARun) / 1_000;
  }

  #askEveryUs(inARun: boolean): number {
    if (this.#gathered < FIRST_EXCHANGES) return ASK_AT_FIRST_US;
    if (!inARun) return ASK_OTHERWISE_US;
    return (this.#line?.line.excess ?? 0) > UNEVEN ? ASK_ON_UNEVEN_US : ASK_IN_A_RUN_US;
  }

  #likely(now: number): number | null {
    if (this.#line === null) return null;
    const { at, base, line } = this.#line;
    return base + Math.floor(line.offset + line.skew * (now - at) + 0.5);
  }

  #anchored(last: Exchange): { at: number; base: number; line: Line } | null {
    const [at, base] = [last.returned, Math.floor((last.out - last.back) / 2)];
    const limits = this.#kept.map((kept) => ({
      asked: at - kept.sent,
      most: kept.out + 1 - base,
      returned: at - kept.returned,
      least: -kept.back - 1 - base,
    }));
    const line = lineThrough(limits);
    return line === null ? null : { at, base, line };
  }
}

function counts(exchange: Exchange, now: number): boolean {
  return now - exchange.returned <= CLOCK_WINDOW_US;
}

// What the exchanges that count leave of the offset at `now`, each widened by the drift there may have been since.
function enclosure(exchanges: readonly Exchange[], now: number): Enclosure | null {
  let found: Enclosure | null = null;
  for (const exchange of exchanges) {
    if (!counts(exchange, now)) continue;
    const { sent, returned, out, back } = exchange;
    found ??= { most: Infinity, least: -Infinity, roundTrip: Infinity };
    found.most = Math.min(found.most, out + 1 + drift(now, sent));
    found.least = Math.max(found.least, -back - 1 - drift(now, returned));
    found.roundTrip = Math.min(found.roundTrip, out + back);
  }
  return found;
}

function drift(one: number, other: number): number {
  return Math.ceil((Math.abs(one - other) * DRIFT_PPM) / 1_000_000);
}
