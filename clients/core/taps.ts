// The HOLDs that this person tapped, until the server has answered for each. A tap is never lost: it is kept past a
// reload, sent again until it is answered, and while nobody has been told the screen says exactly that. The same tap
// keeps its name however often it is sent, so that one tap is one hold.
import type { Cancel, Platform, Store } from './platform';
import type { HoldTap, TapOutcome, ToServer } from './wire';

/** Unanswered for this long, a tap counts as "nobody has been told" and is sent again, and again. */
export const UNTOLD_MS = 500;

/** What became of the last tap. */
export type TapState = 'none' | 'sending' | 'untold' | TapOutcome;

/** What the screen knew at the moment of the tap. */
export type Tapped = Omit<HoldTap, 'tap' | 'queued'>;

/** The taps of one member. */
export class Taps {
  #waiting: HoldTap[];
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
    this.#waiting = readTaps(store.get(name)).map((tap) => ({ ...tap, queued: true }));
    this.#state = this.#waiting.length > 0 ? 'untold' : 'none';
  }

  /** What became of the last tap. */
  get state(): TapState {
    return this.#state;
  }

  /** True while a tap has not been answered. */
  get waiting(): boolean {
    return this.#waiting.length > 0;
  }

  /**
   * HOLD was tapped. Tapping again for the same generation while nobody has answered sends the same tap again: five
   * taps in a fright are one call.
   */
  tap(tapped: Tapped, linked: boolean): void {
    const same = this.#waiting.find((tap) => tap.generation === tapped.generation);
    if (same === undefined) {
      this.#waiting.push({ ...tapped, tap: this.platform.token(), queued: !linked });
      this.#keep();
    }
    const sent = this.#sendAll() && linked;
    if (this.#state !== 'untold' || sent) this.#become(sent ? 'sending' : 'untold');
    this.#watch();
  }

  /** A new line is open: what waits is sent on it, as taps that were made without a link. */
  opened(): void {
    if (!this.waiting) return;
    this.#waiting = this.#waiting.map((tap) => ({ ...tap, queued: true }));
    this.#keep();
    this.#sendAll();
    this.#watch();
  }

  /** The link is lost: whatever waits has not been told to anybody. */
  lost(): void {
    if (this.waiting) this.#become('untold');
  }

  /** The server answered for a tap. */
  answered(tap: string, outcome: TapOutcome): void {
    this.#waiting = this.#waiting.filter((waiting) => waiting.tap !== tap);
    this.#keep();
    if (this.waiting) return;
    this.#untold?.();
    this.#untold = null;
    this.#become(outcome);
  }

  /** The hold is over; what became of answered taps is old news. */
  forget(): void {
    if (!this.waiting) this.#become('none');
  }

  #sendAll(): boolean {
    return this.#waiting.map((tap) => this.send({ kind: 'hold', ...tap })).every((sent) => sent);
  }

  #watch(): void {
    if (this.#untold !== null) return;
    this.#untold = this.platform.after(UNTOLD_MS, () => {
      this.#untold = null;
      if (!this.waiting) return;
      this.#become('untold');
      this.#sendAll();
      this.#watch();
    });
  }

  #keep(): void {
    if (this.waiting) this.store.set(this.name, JSON.stringify(this.#waiting));
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
