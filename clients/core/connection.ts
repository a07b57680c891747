// The line to the server: one WebSocket at a time, kept alive and brought back. It knows heartbeats, clock exchanges and
// back-off, and nothing of fights. A line that says nothing for a second is lost, whatever the socket believes of
// itself: a stalled network closes nothing.
import { ClockEstimator, type Estimate } from './clock';
import { fromBytes, toBytes } from './codec';
import { Pieces } from './pieces';
import type { Cancel, Dial, Platform, Socket } from './platform';
import { StallWatch } from './stall';
import {
  GENERATIONS_OF_A_START,
  INTRODUCTION_US,
  OPENING_US,
  OPEN_QUESTIONS,
  PULSE_US,
  RETRY_FIRST_US,
  RETRY_LONGEST_US,
  SILENCE_US,
  type Back,
  type ToMember,
  type ToServer,
} from './wire';

/** How the line is. */
export type Link =
  /** Being opened for the first time. */
  | 'connecting'
  /** Heard within the last second. */
  | 'linked'
  /** Silent or gone; being brought back. */
  | 'lost'
  /** Closed by the server because this member has opened other pages since; comes back when its person asks. */
  | 'elsewhere'
  /** Closed by the server for good: coming back is of no use. */
  | 'barred';

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
  /** True while there is something that the server must hear even when it says goodbye for good. */
  callsBack(): boolean;
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
  /** The questions about the time that this line has asked and that are not answered. */
  #questions: number[] = [];
  #sameServer = false;
  // Which start of the server the last welcome was from.
  #epoch = 0;
  /** For how long the server's clock has stood still since its start. */
  #stoodUs = 0;
  /** What was heard and not understood, and how often. */
  readonly #unknown = new Map<string, number>();
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

  /** True while the server has let this page in and was heard within the last second. */
  get good(): boolean {
    return this.#link === 'linked' && this.platform.nowUs() - this.#heardUs < SILENCE_US;
  }

  /** True when the last welcome came from the server of before, as far as its clock tells. */
  get sameServer(): boolean {
    return this.#sameServer;
  }

  /** What was heard and not understood, each with how often: a newer server may say what this page does not know. */
  get unknown(): ReadonlyMap<string, number> {
    return this.#unknown;
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
      return this.#socket.send(toBytes(message));
    } catch {
      // The socket closed under our hands; its `closed` is on the way.
      return false;
    }
  }

  /** The page was woken, shown or brought back to a network: look at the line at once instead of waiting. */
  wake(): void {
    if (this.#isClosed) return;
    if (this.#link === 'linked') this.pulse();
    const underWay = this.#timers.has('dial') || (this.#lineOpen && this.#link !== 'linked');
    if (this.good || underWay) return;
    this.#failures = 0;
    this.#lose();
    this.#dial();
  }

  /** Something cannot wait for the next attempt: dials now where no line is there or under way, a closed one too. */
  hurry(): void {
    if (this.#isClosed) this.#become('lost', null);
    else if (!this.#timers.has('redial')) return;
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

  /** The person wants to go on here: opens the line again. */
  useHere(): void {
    if (this.#link === 'elsewhere') this.hurry();
  }

  /** Closes the line and stays away. */
  bar(reason: string | null): void {
    this.#stayAway('barred', reason);
  }

  get #isClosed(): boolean {
    return this.#link === 'barred' || this.#link === 'elsewhere';
  }

  #stayAway(link: 'barred' | 'elsewhere', reason: string | null): void {
    this.#hangUp();
    this.#stop('redial');
    this.#become(link, reason);
  }

  #dial(): void {
    this.#hangUp();
    this.#stop('redial');
    this.#set('dial', OPENING_US / 1_000, () => this.#lost());
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
    this.#heardUs = this.#openedUs;
    this.#pieces = new Pieces();
    this.#questions = [];
    this.#stop('dial');
    this.send(this.events.hello());
    this.events.opened();
    this.#watch();
  }

  #heard(bytes: Uint8Array): void {
    const message = this.#whole(bytes);
    this.#look();
    this.#heardUs = this.platform.nowUs();
    if (message === null) return;
    if (message.kind === 'goodbye') {
      this.#goodbye(message.reason, message.back);
      return;
    }
    if (message.kind === 'clock' && !this.#answered(message)) return;
    // A word out of what would be the future: the machine slept, and its clock with it.
    if (message.kind === 'pulse') {
      this.#stood(message.stood_us);
      this.#agrees(message.now_us, -Infinity);
    }
    if (message.kind === 'welcome') {
      // Every start of the server counts its time from nothing, and one whose clock is not known to be the one of before
      // may be another one.
      const epoch = Math.floor(message.state.generation / GENERATIONS_OF_A_START);
      if (epoch !== this.#epoch) {
        this.#stoodUs = 0;
        this.#forgetClock();
      }
      this.#epoch = epoch;
      const known = this.clock.estimate(this.#heardUs) !== null;
      this.#sameServer = this.#agrees(message.state.now_us, this.#openedUs) && known;
    }
    // The line counts as good once the server has answered on it; until then it may be about to refuse.
    const letIn = this.#link !== 'linked' && (message.kind === 'welcome' || message.kind === 'invited');
    if (letIn) {
      this.#failures = 0;
      this.#become('linked', null);
      this.#watch();
    }
    this.events.message(message);
    if (letIn && this.#link === 'linked') {
      this.#pulses();
      this.#exchanges();
    }
    this.#askInTime();
  }

  // What must still be heard is brought once more, also by somebody who is not wanted any more; the answer to the key
  // then ends it.
  #goodbye(reason: string, back: Back): void {
    const brings = this.events.callsBack() && (back === 'when-asked' || this.#link === 'linked');
    if (back === 'by-itself' || brings) this.#lost(reason);
    else this.#stayAway(back === 'never' ? 'barred' : 'elsewhere', reason);
  }

  // Only answers to questions that this line asked count, each once.
  #answered(answer: ToMember & { kind: 'clock' }): boolean {
    const place = this.#questions.indexOf(answer.sent_us);
    if (place < 0) return false;
    this.#questions.splice(place, 1);
    this.clock.add(answer.sent_us, answer.received_us, answer.answered_us, this.#heardUs);
    return true;
  }

  // The server's machine slept, and its clock with it: what was measured before says nothing any more.
  #stood(us: number | null): void {
    if (us === null || us === this.#stoodUs) return;
    this.#stoodUs = us;
    this.#forgetClock();
  }

  #agrees(serverUs: number, earliest: number): boolean {
    const agrees = this.clock.couldBe(serverUs, earliest, this.#heardUs);
    if (!agrees) this.#forgetClock();
    return agrees;
  }

  // Before anything is believed of the time, it is asked whether this page's clock stood still.
  #look(): void {
    const beforeUs = this.platform.nowUs();
    const wallUs = this.platform.wallUs();
    if (this.#stalls.stoodStill({ beforeUs, wallUs, afterUs: this.platform.nowUs() })) this.#forgetClock();
  }

  #forgetClock(): void {
    this.clock.forget(this.platform.nowUs());
    // In a moment: whatever is being said now, a tap above all, goes first.
    if (this.#link === 'linked') this.#set('exchange', 0, () => this.#exchanges());
  }

  // A message that came in pieces counts with its last one.
  #whole(bytes: Uint8Array): ToMember | null {
    const { message, unknown } = fromBytes(bytes);
    if (unknown !== null) this.#sayUnknown(unknown);
    if (message?.kind !== 'piece') return message;
    const whole = this.#pieces.take(message);
    return whole === null ? null : this.#whole(whole);
  }

  #sayUnknown(what: string): void {
    const before = this.#unknown.get(what) ?? 0;
    this.#unknown.set(what, before + 1);
    if (before === 0) console.warn(`The server said ${what}, which this page does not know: load the page again.`);
  }

  #pulses(): void {
    this.pulse();
    this.#set('pulse', PULSE_US / 1_000, () => this.#pulses());
  }

  #exchanges(): void {
    const nowUs = this.platform.nowUs();
    this.#questions = [...this.#questions, nowUs].slice(-OPEN_QUESTIONS);
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

  // One timer that follows the last word heard, instead of one for each word. A server that refuses many may take its time
  // with each, so that an answer to the key is waited for longer.
  #watch(): void {
    const limit = this.#link === 'linked' ? SILENCE_US : INTRODUCTION_US;
    const left = limit - (this.platform.nowUs() - this.#heardUs);
    if (left <= 0) this.#lost();
    else this.#set('silence', left / 1_000, () => this.#watch());
  }

  #lost(reason: string | null = null): void {
    this.#lose(reason);
    const wait = Math.min(RETRY_LONGEST_US, RETRY_FIRST_US * 2 ** this.#failures) / 1_000;
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
