// Tells that this page's clock stood still: the wall clock has run ahead of it since the last look. A monotonic clock may
// stop while the machine sleeps, and no exchange can tell a stop that is shorter than a round trip.

import { ASLEEP_US } from './wire';

/** Two clocks as one look sees them. */
export interface TwoClocks {
  /** The monotonic clock right before the wall clock was read, µs. */
  beforeUs: number;
  /** The wall clock, µs. */
  wallUs: number;
  /** The monotonic clock right after, µs. */
  afterUs: number;
}

/** Watches from its first look on. */
export class StallWatch {
  #most: number | null = null;

  /** True when the monotonic clock stood still since the last look. A wall clock that was set ahead looks the same. */
  stoodStill({ beforeUs, wallUs, afterUs }: TwoClocks): boolean {
    // The look itself may have been held up: the wall clock is ahead by at least the one and at most the other.
    const [least, most] = [wallUs - afterUs, wallUs - beforeUs];
    const stood = this.#most !== null && least - this.#most >= ASLEEP_US;
    this.#most = most;
    return stood;
  }
}
