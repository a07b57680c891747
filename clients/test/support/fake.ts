// A machine for tests: time that moves only when it is told to, chance from a seed, a network in the palm of the hand.
import { decode, encode } from '@msgpack/msgpack';
import type { Dial, Platform, SocketEvents } from '../../core/platform';
import type { Cue, HoldView, RunSheet, State, ToMember, ToServer, Welcome } from '../../core/wire';
import { chance } from './chance';

/** Virtual time. */
export class FakeTime implements Platform {
  #nowUs = 1_000_000;
  /** How long the monotonic clock has stood still so far. */
  #stoodUs = 0;
  #timers: { atUs: number; then: () => void }[] = [];
  #tokens = 0;
  random: () => number;

  constructor(seed = 1) {
    this.random = chance(seed);
  }

  nowUs(): number {
    return this.#nowUs;
  }

  wallUs(): number {
    return this.#nowUs + this.#stoodUs;
  }

  after(ms: number, then: () => void): () => void {
    const timer = { atUs: this.#nowUs + Math.max(0, Math.ceil(ms * 1_000 - 0.001)), then };
    this.#timers.push(timer);
    return () => {
      this.#timers = this.#timers.filter((each) => each !== timer);
    };
  }

  drawn(then: () => void): void {
    this.after(16, then);
  }

  token = (): string => {
    this.#tokens += 1;
    return `tap-${this.#tokens}`;
  };

  /** When the next timer falls due, microseconds; never when there is none. */
  next(): number {
    return Math.min(Infinity, ...this.#timers.map(({ atUs }) => atUs));
  }

  /** Lets time pass: every timer that falls due is called, in order. */
  pass(ms: number): void {
    const end = this.#nowUs + Math.round(ms * 1_000);
    for (;;) {
      const next = this.#timers.filter((timer) => timer.atUs <= end).sort((a, b) => a.atUs - b.atUs)[0];
      if (next === undefined) break;
      this.#timers = this.#timers.filter((timer) => timer !== next);
      this.#nowUs = Math.max(this.#nowUs, next.atUs);
      next.then();
    }
    this.#nowUs = end;
  }

  /** The machine sleeps and its monotonic clock with it; the wall clock goes on. */
  standStill(ms: number): void {
    this.#stoodUs += ms * 1_000;
  }

  /** True time: what a clock reads that never stands still. */
  trueUs(): number {
    return this.#nowUs + this.#stoodUs;
  }

  /** The machine is busy: time passes and no timer is called yet. */
  standBusy(ms: number): void {
    this.#nowUs += Math.round(ms * 1_000);
  }

  /** The machine is busy or asleep: time passes and no timer is called until it is over. */
  freeze(ms: number): void {
    this.standBusy(ms);
    this.pass(0);
  }
}

/** Server time less local time, on the fake network. */
export const OFFSET_US = 500_000_000;

/** A network with a server at its end that does what the test says. */
export class FakeNetwork {
  /** Every line that was dialled, newest last. */
  readonly lines: SocketEvents[] = [];
  /** What the server was told, clock exchanges and pulses left out. */
  heard: ToServer[] = [];
  /** How many clock exchanges and pulses it was sent. */
  readonly counts = { clock: 0, pulse: 0 };
  /** True while the network carries nothing, without saying so. */
  stalled = false;
  /** How far the server's clock is ahead of true time. */
  aheadUs = OFFSET_US;
  /** For how long its clock has stood still, because its machine slept. */
  stoodUs = 0;
  /** True while lines cannot be opened. */
  down = false;
  /** What the server says to a member who comes back; nothing leaves them waiting. */
  welcome: Welcome | null = welcome();

  constructor(private readonly time: FakeTime) {}

  readonly dial: Dial = (events) => {
    this.lines.push(events);
    if (!this.stalled) this.time.after(1, () => (this.down ? events.closed() : events.opened()));
    return {
      // A network that carries nothing takes what it is given.
      send: (bytes) => {
        if (!this.stalled) this.#told(decode(bytes) as ToServer, events);
        return true;
      },
      close: () => undefined,
    };
  };

  /** The server says something on the newest line. */
  say(message: ToMember): void {
    if (!this.stalled) this.lines.at(-1)?.message(encode(message));
  }

  /** The server's pulse. */
  pulse(generation = 0): void {
    this.say({ kind: 'pulse', now_us: this.time.trueUs() + this.aheadUs, generation, stood_us: this.stoodUs });
  }

  /** Lets time pass while the server pulses, as it does. */
  pass(ms: number, generation = 0): void {
    for (let left = ms; left > 0; left -= 100) {
      this.time.pass(Math.min(100, left));
      this.pulse(generation);
    }
  }

  #told(message: ToServer, events: SocketEvents): void {
    if (message.kind === 'clock') {
      this.counts.clock += 1;
      const at = this.time.trueUs() + this.aheadUs;
      events.message(encode({ kind: 'clock', sent_us: message.sent_us, received_us: at, answered_us: at }));
    } else if (message.kind === 'pulse') {
      this.counts.pulse += 1;
    } else {
      this.heard.push(message);
      if (message.kind === 'return' && this.welcome !== null)
        events.message(encode({ kind: 'welcome', ...this.welcome }));
    }
  }
}

/** A state, running in generation 1 unless told otherwise. */
export function state(more: Partial<State> = {}): State {
  return {
    now_us: OFFSET_US,
    last_event: '1-call-0',
    generation: 1,
    production: 'The Salt Stair',
    stage: 'running',
    because: null,
    setup: {
      fight: 'The Salt Stair',
      weapons: null,
      from: 0,
      from_move: null,
      to: 0,
      percent: 60,
      count_in: 4,
      drive: 'clock',
    },
    run: 1,
    over: false,
    next_speed: null,
    ready: null,
    hold: null,
    released: null,
    spot: null,
    sound: { well: true, says: 'Silent.' },
    hold_call: true,
    log: { well: true, says: 'Written.' },
    ...more,
  };
}

/** A welcome into that state. */
export function welcome(more: Partial<State> = {}): Welcome {
  const run: RunSheet | null = null;
  const own = { name: 'Ana', role: 'performer', part: 'MARET', ready: false } as const;
  const you = { ...own, newcomers: [], waits: null };
  return { member: 3, key: null, you, horizon_us: 1_500_000, state: state(more), run };
}

/** A cue without moves. */
export function cue(number: number, due_us: number | null, generation = 1): Cue {
  return {
    run: 1,
    generation,
    cue: number,
    step: null,
    due_us,
    phrase: 0,
    phrase_name: 'Across the quay',
    beat: String(number),
    bar: 1,
    count: 1,
    count_in: null,
    click: 'beat',
    moves: [],
    next: [],
    next_in_beats: null,
    walks: [],
    next_walks: [],
    next_walk_in_beats: null,
  };
}

/** A hold that stands. */
export function hold(generation: number, more: Partial<HoldView> = {}): HoldView {
  const callers = [{ member: 2, name: 'Idris', role: 'captain' as const, times: 1, reason: null, screen: null }];
  return {
    hold: 1,
    generation,
    at_us: 0,
    spot: null,
    percent: 60,
    also: [],
    calls: 1,
    last_event: '1-call-1',
    caller_count: 1,
    callers,
    reason: null,
    written: false,
    released_by: null,
    ...more,
  };
}
