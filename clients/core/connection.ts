// The line to the server: one WebSocket at a time, kept alive and brought back. It knows heartbeats, clock exchanges and
// back-off, and nothing of fights. A line that says nothing for a second is lost, whatever the socket believes of
// itself: a stalled network closes nothing.
import { ClockEstimator, type Estimate } from './clock';
import { fromBytes, toBytes } from './codec';
import { Pieces } from './pieces';
import type { Cancel, Dial, Platform, Socket } from './platform';
import { StallWatch } from './stall';
import type { ToMember, ToServer } from './wire';

/** How the line is. */
export type Link =
  /** Being opened for the first time. */
  | 'connecting'
  /** Heard within the last second. */
  | 'linked'
  /** Silent or gone; being brought back. */
  | 'lost'
  /** Closed by the server for good: coming back is of no use. */
  | 'barred';

/** A pulse goes out this often. */
export const PULSE_MS = 300;
/** Silence for this long is a lost link. */
export const SILENCE_MS = 1_000;
/** A line that has not said anything this long after it was dialled is given up. */
export const DIAL_MS = 3_000;
/** The first wait before dialling anew, and the longest. */
export const BACK_OFF_MS = { first: 200, longest: 5_000 } as const;
/** How far the word of a server may be from what is believed of its time before it is taken for another one. */
const ANOTHER_CLOCK_US = 1_000_000;
type Timer = 'dial' | 'redial' | 'pulse' | 'exchange' | 'silence';

/** What the owner of a connection is told, and asked. */
export interface ConnectionEvents {
  /** What to say first on a new line: a key, or an invitation. */
  hello(): ToServer;
  /** A line is open and `hello` was sent. The server has not answered yet. */
  opened(): void;
  /** The line has changed; `reason` is the server's, when it said one. */
  link(link: Link, reason: string | null): void;
  /** The server said something. */
  message(message: ToMember): void;
  /** True while the page can be seen. */
  visible(): boolean;
  /** True while a run goes or may begin at any moment: the time is asked for more often then. */
  inARun(): boolean;
}

/** The connection. It does nothing until it is started. */
export class Connection {
  readonly clock = new ClockEstimator();
  #socket: Socket | null = null;
  #line: symbol | null = null;
  #link: Link = 'connecting';
  #lineOpen = false;
  #pieces = new Pieces();
  #heardUs = 0;
  #openedUs = 0;
  /** When the time was last asked for, and how long the wait for the next question is. */
  #asked = { atUs: 0, everyMs: 0 };
  readonly #stalls = new StallWatch();
  #failures = 0;
  #timers = new Map<Timer, Cancel>();

  constructor(
    private readonly platform: Platform,
    private readonly dial: Dial,
    private readonly events: ConnectionEvents,
  ) {}

  /** How the line is now. */
  get link(): Link {
    return this.#link;
  }

  /** What is known of the server's clock now. */
  estimate(): Estimate | null {
    this.#look();
    return this.clock.estimate(this.platform.nowUs());
  }

  /** Server time now, or nothing before the first clock exchange. */
  serverNowUs(): number | null {
    const estimate = this.estimate();
    return estimate === null ? null : this.platform.nowUs() + estimate.offset_us;
  }

  /** Opens the line. */
  start(): void {
    this.#dial();
  }

  /** Says something. False when there is no open line to say it on. */
  send(message: ToServer): boolean {
    if (this.#socket === null || !this.#lineOpen) return false;
    try {
      this.#socket.send(toBytes(message));
      return true;
    } catch {
      // The socket closed under our hands; its `closed` is on the way.
      return false;
    }
  }

  /** The page was woken, shown or brought back to a network: look at the line at once instead of waiting. */
  wake(): void {
    if (this.#link === 'barred') return;
    this.pulse();
    const silentMs = (this.platform.nowUs() - this.#heardUs) / 1_000;
    const alive = this.#lineOpen && silentMs < SILENCE_MS;
    const underWay = this.#timers.has('dial');
    if (alive || underWay) return;
    this.#failures = 0;
    this.#lose();
    this.#dial();
  }

  /** Says "I am here" now. */
  pulse(): void {
    const estimate = this.estimate();
    this.send({
      kind: 'pulse',
      visible: this.events.visible(),
      bound_us: estimate?.bound_us ?? null,
      round_trip_us: estimate?.round_trip_us ?? null,
    });
  }

  /** Closes the line and stays away. */
  bar(reason: string | null): void {
    this.#hangUp();
    this.#stop('redial');
    this.#become('barred', reason);
  }

  #dial(): void {
    this.#hangUp();
    this.#stop('redial');
    this.#set('dial', DIAL_MS, () => this.#lost());
    // What an earlier line still has to say is not listened to any more.
    const line = Symbol('line');
    this.#line = line;
    const mine = (then: () => void) => {
      if (this.#line === line) then();
    };
    this.#socket = this.dial({
      opened: () => mine(() => this.#opened()),
      message: (bytes) => mine(() => this.#heard(bytes)),
      closed: () => mine(() => this.#lost()),
    });
  }

  #opened(): void {
    this.#lineOpen = true;
    this.#openedUs = this.platform.nowUs();
    this.#pieces = new Pieces();
    this.send(this.events.hello());
    this.events.opened();
    this.#pulses();
    this.#exchanges();
  }

  #heard(bytes: Uint8Array): void {
    const message = this.#whole(fromBytes(bytes));
    this.#look();
    this.#heardUs = this.platform.nowUs();
    if (!this.#timers.has('silence')) this.#watch(SILENCE_MS);
    if (message === null) return;
    if (message.kind === 'goodbye') {
      if (message.for_good) this.bar(message.reason);
      else this.#lost(message.reason);
      return;
    }
    if (message.kind === 'clock') {
      this.clock.add(message.sent_us, message.received_us, message.answered_us, this.#heardUs);
    }
    // A word out of what would be the future: the machine slept, and its clock with it. A welcome may also come from
    // another server than before.
    if (message.kind === 'pulse') this.#compare(message.now_us, -Infinity, 0);
    if (message.kind === 'welcome') this.#compare(message.state.now_us, this.#openedUs, ANOTHER_CLOCK_US);
    // The line counts as good once the server has answered on it; until then it may be about to refuse.
    if (message.kind === 'welcome' || message.kind === 'invited') {
      this.#failures = 0;
      this.#stop('dial');
      this.#become('linked', null);
    }
    this.events.message(message);
    this.#askInTime();
  }

  #compare(serverUs: number, earliest: number, slackUs: number): void {
    if (!this.clock.couldBe(serverUs, earliest, this.#heardUs, slackUs)) this.#forgetClock();
  }

  // Before anything is believed of the time, it is asked whether this page's clock stood still.
  #look(): void {
    const beforeUs = this.platform.nowUs();
    const wallUs = this.platform.wallUs();
    if (this.#stalls.stoodStill({ beforeUs, wallUs, afterUs: this.platform.nowUs() })) this.#forgetClock();
  }

  #forgetClock(): void {
    this.clock.forget(this.platform.nowUs());
    if (this.#lineOpen) this.#exchanges();
  }

  // A message that came in pieces counts with its last one.
  #whole(message: ToMember | null): ToMember | null {
    if (message?.kind !== 'piece') return message;
    const bytes = this.#pieces.take(message);
    return bytes === null ? null : fromBytes(bytes);
  }

  #pulses(): void {
    this.pulse();
    this.#set('pulse', PULSE_MS, () => this.#pulses());
  }

  #exchanges(): void {
    const nowUs = this.platform.nowUs();
    this.send({ kind: 'clock', sent_us: nowUs });
    const everyMs = this.clock.askEveryMs(this.events.inARun());
    this.#asked = { atUs: nowUs, everyMs };
    this.#set('exchange', everyMs, () => this.#exchanges());
  }

  // What was just heard may have changed how often the time is asked for; it counts from the last question.
  #askInTime(): void {
    const everyMs = this.clock.askEveryMs(this.events.inARun());
    if (everyMs === this.#asked.everyMs || !this.#timers.has('exchange')) return;
    this.#asked.everyMs = everyMs;
    const left = everyMs - (this.platform.nowUs() - this.#asked.atUs) / 1_000;
    this.#set('exchange', Math.max(0, left), () => this.#exchanges());
  }

  // One timer that follows the last word heard, instead of one for each word.
  #watch(ms: number): void {
    this.#set('silence', ms, () => {
      const left = SILENCE_MS - (this.platform.nowUs() - this.#heardUs) / 1_000;
      if (left > 0) this.#watch(left);
      else this.#lost();
    });
  }

  #lost(reason: string | null = null): void {
    this.#lose(reason);
    const wait = Math.min(BACK_OFF_MS.longest, BACK_OFF_MS.first * 2 ** this.#failures);
    this.#failures = Math.min(this.#failures + 1, 10);
    this.#set('redial', wait * (0.5 + this.platform.random() / 2), () => this.#dial());
  }

  #lose(reason: string | null = null): void {
    this.#hangUp();
    if (this.#link !== 'connecting' || reason !== null) this.#become('lost', reason);
  }

  #hangUp(): void {
    for (const timer of ['dial', 'pulse', 'exchange', 'silence'] as const) this.#stop(timer);
    this.#lineOpen = false;
    const socket = this.#socket;
    this.#socket = null;
    this.#line = null;
    socket?.close();
  }

  #become(link: Link, reason: string | null): void {
    if (this.#link === link && reason === null) return;
    this.#link = link;
    this.events.link(link, reason);
  }

  #set(name: Timer, ms: number, then: () => void): void {
    this.#stop(name);
    this.#timers.set(
      name,
      this.platform.after(ms, () => {
        this.#timers.delete(name);
        then();
      }),
    );
  }

  #stop(name: Timer): void {
    this.#timers.get(name)?.();
    this.#timers.delete(name);
  }
}
