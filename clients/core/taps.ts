// The HOLDs that this person tapped, until each is written down or known to hold nothing. A tap is never lost: it is kept
// past a reload, sent at once over any open line, again while nobody answers, and over every new line until it is on the
// server's disk; and while nobody has been told the screen says exactly that. The same tap keeps its name however often
// it is sent, so that one tap is one hold. The Rust member's twin is `src/member/taps.rs`.
import type { Cancel, Platform, Store } from './platform';
import { TAPS_WITH_KEY, UNTOLD_US, type HoldTap, type TapOutcome, type ToServer } from './wire';

/** What became of the last tap; `refused` when the server did not know this page before it answered. */
export type TapState = 'none' | 'sending' | 'untold' | 'refused' | TapOutcome;

/** What the screen knew at the moment of the tap. */
export type Tapped = Omit<HoldTap, 'tap' | 'queued'>;

/** A tap that is not settled: neither written nor known to hold nothing. */
interface Unsettled {
  tap: HoldTap;
  /** True once the server has answered "held". It is kept until it is written, and sent over a new line again. */
  told: boolean;
}

/** The line that taps go out on. */
export interface TapLine {
  /** Says something; false when there is no open line to say it on. */
  send(message: ToServer): boolean;
  /** True while the server has let this page in. */
  linked(): boolean;
  /** True while it was heard within the last second as well. */
  good(): boolean;
}

/** The taps of one member. */
export class Taps {
  #unsettled: Unsettled[];
  #state: TapState;
  #again: Cancel | null = null;
  /** Every tap that this page has had: what else stands in the store is another page's, opened with the same key. */
  readonly #own = new Set<string>();

  /** `name` is the place in the store that is this member's own; taps that a closed page left there are taken up. */
  constructor(
    private readonly platform: Platform,
    private readonly store: Store,
    private readonly name: string,
    private readonly line: TapLine,
    private readonly changed: (state: TapState) => void,
  ) {
    this.#unsettled = readTaps(store.get(name)).map((tap) => ({ tap: { ...tap, queued: true }, told: false }));
    for (const { tap } of this.#unsettled) this.#own.add(tap.tap);
    this.#state = this.areWaiting ? 'untold' : 'none';
  }

  /** What became of the last tap. */
  get state(): TapState {
    return this.#state;
  }

  /** True while a tap has not been answered. */
  get areWaiting(): boolean {
    return this.#waiting().length > 0;
  }

  /**
   * HOLD was tapped. Tapped again for the same generation while nobody has answered, it is the same tap: five taps in a
   * fright are one call. A reason that it did not have makes it another one.
   */
  tap(tapped: Tapped): void {
    const good = this.line.good();
    const { generation, reason } = tapped;
    const joins = this.#waiting().some(
      (waiting) => waiting.generation === generation && (reason === null || waiting.reason === reason),
    );
    if (!joins) {
      this.#unsettled.push({ tap: { ...tapped, tap: this.platform.token(), queued: !good }, told: false });
    }
    const sent = this.#sendWaiting();
    // Kept once it is on its way: a slow store holds nothing up.
    if (!joins) this.#keep();
    this.#become(sent && good ? 'sending' : 'untold');
    if (this.line.linked() && this.#again === null) this.#watch();
  }

  /** What is sent together with the key on a new line: the oldest that are not settled, made without a link. */
  withKey(): HoldTap[] {
    for (const one of this.#unsettled) one.tap = { ...one.tap, queued: true };
    return this.#unsettled.slice(0, TAPS_WITH_KEY).map((one) => one.tap);
  }

  /** A new line is open and the key was sent on it: what did not come with the key is sent now. */
  opened(): void {
    for (const one of this.#unsettled.slice(TAPS_WITH_KEY)) this.line.send({ kind: 'hold', ...one.tap });
    if (this.#unsettled.length > 0) this.#keep();
  }

  /** The server has let this page in: it will answer from now on. */
  linked(): void {
    this.#rest();
    if (this.areWaiting) this.#watch();
  }

  /** The link is lost: whatever waits has not been told to anybody. */
  lost(): void {
    this.#rest();
    if (this.areWaiting) this.#become('untold');
  }

  /** The server does not know this page: it will hear of nothing any more. */
  refused(): void {
    this.#rest();
    const waited = this.areWaiting;
    this.#unsettled = [];
    this.#keep();
    if (waited) this.#become('refused');
  }

  /** The server answered for a tap. An answer to one that is not kept says nothing. */
  answered(tap: string, outcome: TapOutcome): void {
    const known = this.#unsettled.find((one) => one.tap.tap === tap);
    if (known === undefined) return;
    if (outcome === 'held') {
      known.told = true;
    } else {
      this.#unsettled = this.#unsettled.filter((one) => one !== known);
      this.#keep();
    }
    if (this.areWaiting) return;
    this.#rest();
    this.#become(outcome);
  }

  /** The hold is over; what became of answered taps is old news. */
  forget(): void {
    if (!this.areWaiting) this.#become('none');
  }

  #waiting(): HoldTap[] {
    return this.#unsettled.filter((one) => !one.told).map((one) => one.tap);
  }

  #sendWaiting(): boolean {
    return this.#waiting()
      .map((tap) => this.line.send({ kind: 'hold', ...tap }))
      .every((sent) => sent);
  }

  #watch(): void {
    this.#again = this.platform.after(UNTOLD_US / 1_000, () => {
      this.#again = null;
      this.#become('untold');
      // A line that has been silent for too long is about to be given up, and the tap comes with the next one.
      if (this.line.good()) this.#sendWaiting();
      this.#watch();
    });
  }

  #rest(): void {
    this.#again?.();
    this.#again = null;
  }

  #keep(): void {
    const mine = this.#unsettled.map((one) => one.tap);
    for (const { tap } of mine) this.#own.add(tap);
    const others = readTaps(this.store.get(this.name)).filter(({ tap }) => !this.#own.has(tap));
    const taps = [...others, ...mine];
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
