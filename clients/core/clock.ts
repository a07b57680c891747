// How far the server's clock is from this one, from four-timestamp exchanges (the offset and delay of RFC 5905, section
// 8), and how wrong that can be. The fastest recent way out and the fastest recent way back are taken apart: the offset
// lies between them, and half of what is left is the bound. An asymmetric path hides inside the bound; nothing here can
// see it. `src/clock` does the same in Rust, and both are tested on the same recorded exchanges.

/** What is known of the server's clock at a moment. Microseconds. */
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

/** Two quartz clocks part by no more than this, as a fraction of the time that passes: 30 parts in a million. */
export const DRIFT = 30e-6;

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
  #exchanges: Exchange[] = [];

  /**
   * Takes in an exchange: asked at `t1` and answered at `t4` on the local clock, received at `t2` and answered at `t3`
   * on the server's, microseconds. One that cannot have happened (answered before it was asked) is left out.
   */
  add(t1: number, t2: number, t3: number, t4: number): void {
    if (t4 < t1 || t3 < t2) return;
    const taken = { at: t4, out: t2 - t1, back: t4 - t3 };
    const older = this.#exchanges.filter((kept) => kept.at >= t4 - WINDOW_US && kept.at <= t4);
    this.#exchanges = [...older, taken];
    // A way out and a way back that add up to less than no time contradict each other: one of the clocks has stepped
    // (a laptop slept, the server started anew), so what was measured before it says nothing any more.
    const best = this.#best(t4);
    if (best !== null && best.out + best.back < 0) this.#exchanges = [taken];
  }

  /** What is known at `now` (local microseconds), or nothing before the first exchange. */
  estimate(now: number): Estimate | null {
    const best = this.#best(now);
    if (best === null) return null;
    return {
      offset_us: Math.round((best.out - best.back) / 2),
      bound_us: Math.round((best.out + best.back) / 2),
      round_trip_us: Math.round(Math.min(...this.#exchanges.map((kept) => kept.out + kept.back))),
    };
  }

  // The fastest way out and back, each exchange charged for the drift since it was made.
  #best(now: number): { out: number; back: number } | null {
    if (this.#exchanges.length === 0) return null;
    let [out, back] = [Infinity, Infinity];
    for (const kept of this.#exchanges) {
      const drift = Math.max(0, now - kept.at) * DRIFT;
      out = Math.min(out, kept.out + drift);
      back = Math.min(back, kept.back + drift);
    }
    return { out, back };
  }
}
