// The HOLDs that this person tapped, until each is written down. A tap is never lost: it is kept past a reload, sent again
// until it is answered, and over a new line until it is on the server's disk, and while nobody has been told the screen says exactly that. The same tap
// keeps its name however often it is sent, so that one tap is one hold.
import type { Cancel, Platform, Store } from './platform';
import type { HoldTap, TapOutcome, ToServer } from './wire';

/** Unanswered for this long, a tap counts as "nobody has been told" and is sent again, and again. */
export const UNTOLD_MS = 500;

/** So many taps come with the key on a new line, and fit a frame; more of them follow it. */
const WITH_KEY = 6;

/** What became of the last tap. */
export type TapState = 'none' | 'sending' | 'untold' | TapOutcome;

/** What the screen knew at the moment of the tap. */
export type Tapped = Omit<HoldTap, 'tap' | 'queued'>;

/** A tap that is not settled: neither written nor known to hold nothing. */
interface Unsettled {
  tap: HoldTap;
  /** True once the server has answered "held". It is kept until it is written, and sent over a new line again. */
  told: boolean;
}

/** The taps of one member. */
export class Taps {
  #unsettled: Unsettled[];
  #state: TapState;
  #untold: Cancel | null = null;

  /** `name` is the place in the store that is this member's own; taps that a closed page left there are taken up. */
  constructor(
    private readonly platform: Platform,
    private readonly store: Store,
    private readonly name: string,
    private readonly send: (message: ToServer) => boolean,
    private readonly changed: (state: TapState) => void,
  ) {
    this.#unsettled = readTaps(store.get(name)).map((tap) => ({ tap: { ...tap, queued: true }, told: false }));
    this.#state = this.waiting ? 'untold' : 'none';
  }

  /** What became of the last tap. */
  get state(): TapState {
    return this.#state;
  }

  /** True while a tap has not been answered. */
  get waiting(): boolean {
    return this.#unsettled.some((one) => !one.told);
  }

  /**
   * HOLD was tapped. Tapping again for the same generation while nobody has answered sends the same tap again: five
   * taps in a fright are one call.
   */
  tap(tapped: Tapped, linked: boolean): void {
    const same = this.#unsettled.some((one) => !one.told && one.tap.generation === tapped.generation);
    if (!same) {
      const tap = { ...tapped, tap: this.platform.token(), queued: !linked };
      this.#unsettled.push({ tap, told: false });
    }
    const sent = this.#sendWaiting() && linked;
    // Kept once it is on its way: a slow store holds nothing up.
    if (!same) this.#keep();
    if (this.#state !== 'untold' || sent) this.#become(sent ? 'sending' : 'untold');
    this.#watch();
  }

  /** What is sent together with the key on a new line: the oldest that are not settled, made without a link. */
  withKey(): HoldTap[] {
    for (const one of this.#unsettled) one.tap = { ...one.tap, queued: true };
    return this.#unsettled.slice(0, WITH_KEY).map((one) => one.tap);
  }

  /** A new line is open and the key was sent on it: what did not come with the key is sent now. */
  opened(): void {
    if (this.#unsettled.length === 0) return;
    this.#keep();
    for (const one of this.#unsettled.slice(WITH_KEY)) this.send({ kind: 'hold', ...one.tap });
    this.#watch();
  }

  /** The link is lost: whatever waits has not been told to anybody. */
  lost(): void {
    if (this.waiting) this.#become('untold');
  }

  /** The server answered for a tap. */
  answered(tap: string, outcome: TapOutcome): void {
    if (outcome === 'held') {
      for (const one of this.#unsettled) one.told ||= one.tap.tap === tap;
    } else {
      this.#unsettled = this.#unsettled.filter((one) => one.tap.tap !== tap);
      this.#keep();
    }
    if (this.waiting) return;
    this.#untold?.();
    this.#untold = null;
    this.#become(outcome);
  }

  /** The hold is over; what became of answered taps is old news. */
  forget(): void {
    if (!this.waiting) this.#become('none');
  }

  #sendWaiting(): boolean {
    const waiting = this.#unsettled.filter((one) => !one.told);
    return waiting.map((one) => this.send({ kind: 'hold', ...one.tap })).every((sent) => sent);
  }

  #watch(): void {
    if (this.#untold !== null) return;
    this.#untold = this.platform.after(UNTOLD_MS, () => {
      this.#untold = null;
      if (!this.waiting) return;
      this.#become('untold');
      this.#sendWaiting();
      this.#watch();
    });
  }

  #keep(): void {
    const taps = this.#unsettled.map((one) => one.tap);
    if (taps.length > 0) this.store.set(this.name, JSON.stringify(taps));
    else this.store.remove(this.name);
  }

  #become(state: TapState): void {
    if (this.#state === state) return;
    this.#state = state;
    this.changed(state);
  }
}

// What an earlier page left. Anything else that stands there is left alone, and nothing is sent because of it.
function readTaps(text: string | null): HoldTap[] {
  if (text === null) return [];
  try {
    const value: unknown = JSON.parse(text);
    return Array.isArray(value) ? value.filter(isTap) : [];
  } catch {
    return [];
  }
}

function isTap(value: unknown): value is HoldTap {
  if (typeof value !== 'object' || value === null) return false;
  const tap = value as Partial<Record<keyof HoldTap, unknown>>;
  return typeof tap.tap === 'string' && typeof tap.generation === 'number';
}
