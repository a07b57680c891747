// How far the server's clock is from this one, from four-timestamp exchanges (the offset and delay of RFC 5905, section
// 8), and how wrong that can be. The fastest recent way out and the fastest recent way back are taken apart: the offset
// lies between them, and half of what is left is the bound. An asymmetric path hides inside the bound; nothing here can
// see it. The rules stand at the head of `src/clock/estimator.rs`, this one's twin, and both are tested on the same
// exchanges, `tests/vectors/clock.json`.

/** What is known of the server's clock at a moment. Whole microseconds. */
export interface Estimate {
  /** Server time less local time. */
  offset_us: number;
  /** The offset is wrong by no more than this. */
  bound_us: number;
  /** The best round trip that recent exchanges had. */
  round_trip_us: number;
}

/** How long an exchange counts. */
export const WINDOW_US = 30_000_000;
/** Two quartz clocks part by no more than this, parts in a million. */
export const DRIFT_PPM = 30;
/** The clocks are read in whole microseconds, so two honest legs may add up to this much less than they took. */
const READING_US = 2;
/** So many exchanges are made quickly, then one a second. */
const FIRST_EXCHANGES = 16;

interface Exchange {
  /** When its answer came, local time. */
  at: number;
  /** T2 − T1: the offset and the way out. */
  out: number;
  /** T4 − T3: the way back less the offset. */
  back: number;
}

/** The estimator. */
export class ClockEstimator {
  #kept: Exchange[] = [];
  #sinceAnew = 0;

  /**
   * Takes in an exchange at the moment of its answer: asked at `t1` and answered at `t4` on the local clock, received at
   * `t2` and answered at `t3` on the server's, microseconds. One that cannot have happened is left out.
   */
  add(t1: number, t2: number, t3: number, t4: number): void {
    const taken = { at: t4, out: t2 - t1, back: t4 - t3 };
    const sane = [t1, t2, t3, t4].every(Number.isSafeInteger) && t4 >= t1 && t3 >= t2;
    if (!sane || taken.out + taken.back < -READING_US) return;
    // What has a later answer than this one is from before the local clock went back.
    this.#kept = this.#kept.filter((kept) => kept.at <= t4 && counts(kept, t4));
    // Two ways that add up to less than no time contradict each other: one of the clocks has stepped (a laptop slept,
    // the server started anew), so what was measured before says nothing any more.
    const best = fastest([...this.#kept, taken], t4);
    if (best !== null && best.out + best.back < -READING_US) this.#kept = [];
    if (this.#kept.length === 0) this.#sinceAnew = 0;
    this.#kept.push(taken);
    this.#sinceAnew += 1;
  }

  /** What is known at `now` (local microseconds); nothing before the first exchange, or half a minute after the last. */
  estimate(now: number): Estimate | null {
    const counted = this.#kept.filter((kept) => counts(kept, now));
    const best = fastest(counted, now);
    if (best === null) return null;
    return {
      offset_us: Math.floor((best.out - best.back) / 2),
      bound_us: Math.max(0, Math.ceil((best.out + best.back) / 2)),
      round_trip_us: Math.max(0, Math.min(...counted.map((kept) => kept.out + kept.back))),
    };
  }

  /** False when the server cannot have read its clock as `serverUs` by `now`: this machine's clock slept meanwhile. */
  couldBe(serverUs: number, now: number): boolean {
    const known = this.estimate(now);
    return known === null || serverUs <= now + known.offset_us + known.bound_us + READING_US;
  }

  /** Drops everything: the local clock is known to have slept. */
  forget(): void {
    this.#kept = [];
    this.#sinceAnew = 0;
  }

  /** How long to wait between two exchanges, milliseconds. */
  askEveryMs(): number {
    return this.#sinceAnew < FIRST_EXCHANGES ? 125 : 1_000;
  }
}

function counts(exchange: Exchange, now: number): boolean {
  return now - exchange.at <= WINDOW_US;
}

// The fastest way out and back, each charged for the drift there may have been since.
function fastest(exchanges: Exchange[], now: number): { out: number; back: number } | null {
  if (exchanges.length === 0) return null;
  let [out, back] = [Infinity, Infinity];
  for (const exchange of exchanges) {
    const charge = Math.ceil((Math.max(0, now - exchange.at) * DRIFT_PPM) / 1_000_000);
    out = Math.min(out, exchange.out + charge);
    back = Math.min(back, exchange.back + charge);
  }
  return { out, back };
}
