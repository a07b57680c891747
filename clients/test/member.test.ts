// One member, written twice: a page goes through the scenarios that the Rust member goes through, made by a small model
// in `tests/it/member_scenarios.rs`. At each step something happens to the page; each act is what it must do by itself,
// and when.
import { readFileSync } from 'node:fs';
import { decode, encode } from '@msgpack/msgpack';
import { describe, expect, it } from 'vitest';
import { markOf, type Entry } from '../core/keys';
import { memoryStore, type SocketEvents, type Store } from '../core/platform';
import { Session } from '../core/session';
import type { Back, HoldTap, Stage, TapOutcome, ToMember, ToServer } from '../core/wire';
import { cue, FakeTime, hold, state, welcome } from './support/fake';

type Row = [number, string, ...unknown[]];

interface Scenario {
  name: string;
  chance: number;
  steps: Row[];
  acts: Row[];
}

const file = new URL('../../tests/vectors/member.json', import.meta.url);
const { ahead_us, scenarios } = JSON.parse(readFileSync(file, 'utf8')) as {
  ahead_us: number;
  scenarios: Scenario[];
};

const entry: Entry = {
  key: 'a-key',
  invitation: '00000000',
  role: 'performer',
  name: 'Ana',
  part: 'MARET',
  production: 'The Salt Stair',
};

/** Where the taps of that member are kept. */
const TAPS = `holdfast.taps.${markOf(entry.key)}`;
/** The moment of the machine's clock at which a scenario begins, µs. */
const BEGIN_US = 1_000_000;

/** A page in a scenario. */
class Player {
  readonly acts: Row[] = [];
  #time = new FakeTime();
  #aheadUs = ahead_us;
  /** For how long the server's clock has stood still. */
  #stoodUs = 0;
  /** How long the machine's clock has stood still. */
  #slept = 0;
  #answered = true;
  #questions: number[] = [];
  #line: SocketEvents | null = null;
  #open = false;
  #nextTap = '';
  readonly #store: Store = memoryStore();
  #session: Session;
  #said: [link: string, tap: string, kept: string] = ['away', 'none', '[]'];

  constructor(private readonly chance: number) {
    this.#session = this.#begin();
    this.#say();
  }

  step([at, what, ...values]: Row): void {
    if (what === 'freeze') {
      this.#time.freeze((at - this.#now()) / 1_000);
    } else {
      for (let next = this.#next(); next <= at; next = this.#next()) {
        this.#time.pass((next - this.#now()) / 1_000);
        this.#say();
      }
      this.#time.pass((at - this.#now()) / 1_000);
      this.#take(what, values);
      this.#time.pass(0);
    }
    this.#say();
  }

  #now(): number {
    return this.#time.nowUs() - BEGIN_US;
  }

  #next(): number {
    return this.#time.next() - BEGIN_US;
  }

  #serverUs(): number {
    return this.#now() + this.#aheadUs;
  }

  #begin(): Session {
    this.#time = new FakeTime();
    this.#time.random = () => this.chance;
    this.#time.token = () => this.#nextTap;
    const session = new Session({
      platform: this.#time,
      dial: (events) => this.#dialled(events),
      store: this.#store,
      senses: {
        arm: () => undefined,
        disarm: () => undefined,
        shown: ({ cue: shown, late_us, again }) =>
          this.#act('show', shown.generation, shown.cue, late_us, late_us === null && !again),
        silence: () => undefined,
        callHold: () => false,
      },
      visible: () => true,
      entry,
      page: 'a-page',
      barred: () => undefined,
    });
    return session;
  }

  #dialled(events: SocketEvents) {
    this.#act('dial');
    this.#line = events;
    this.#open = false;
    this.#questions = [];
    return {
      send: (bytes: Uint8Array) => {
        if (this.#line === events) this.#sent(decode(bytes) as ToServer);
        return this.#line === events;
      },
      close: () => {
        if (this.#line !== events) return;
        this.#line = null;
        this.#act('hang-up');
      },
    };
  }

  #take(what: string, values: unknown[]): void {
    const [first, second, third, fourth] = values;
    const generation = first as number;
    switch (what) {
      case 'open':
        this.#open = this.#line !== null;
        return this.#line?.opened();
      case 'close':
        return this.#close();
      case 'welcome':
        this.#aheadUs += third as number;
        return this.#hear({
          kind: 'welcome',
          ...welcome({ generation, stage: second as Stage, now_us: this.#serverUs() }),
        });
      case 'pulse':
        return this.#pulse(this.#serverUs(), generation);
      case 'stood':
        this.#aheadUs -= first as number;
        this.#stoodUs += first as number;
        return this.#pulse(this.#serverUs(), 0);
      case 'future':
        return this.#pulse(this.#serverUs() + 3_600_000_000, generation);
      case 'state':
        return this.#hear({
          kind: 'state',
          ...state({ generation, stage: second as Stage, now_us: this.#serverUs() }),
        });
      case 'stop':
        return this.#hear({ kind: 'stop', generation, at_us: this.#serverUs() });
      case 'held':
        return this.#hear({ kind: 'held', ...hold(generation) });
      case 'cue':
        return this.#hear({
          kind: 'cue',
          ...cue(second as number, third as number | null, generation),
          step: fourth as number | null,
        });
      case 'answer':
        return this.#hear({ kind: 'tap-answer', tap: first as string, outcome: second as TapOutcome, hold: null });
      case 'refused':
        return this.#hear({ kind: 'refused', asked: 'return', reason: 'This key is not known here.' });
      case 'goodbye':
        return this.#hear({ kind: 'goodbye', reason: 'Another page came.', back: first as Back });
      case 'noise':
        return this.#carry(encode({ kind: 'of tomorrow' }));
      case 'clock':
        this.#answered = first as boolean;
        return;
      case 'time':
        return this.#answerHonestly();
      case 'lies':
        return this.#lie();
      case 'sleep':
        return this.#sleep(first as number);
      case 'tap':
        this.#nextTap = first as string;
        return this.#session.hold(second as string | null);
      case 'reload':
        return this.#reload();
      default:
        throw new Error(`the scenario says ${what}`);
    }
  }

  #hear(message: ToMember): void {
    this.#carry(encode(message));
  }

  #pulse(now_us: number, generation: number): void {
    this.#hear({ kind: 'pulse', now_us, generation, stood_us: this.#stoodUs });
  }

  // Nothing is heard without a line.
  #carry(bytes: Uint8Array): void {
    if (this.#open) this.#line?.message(bytes);
  }

  #close(): void {
    const line = this.#line;
    this.#line = null;
    line?.closed();
  }

  #answerHonestly(): void {
    const sent_us = this.#questions.pop();
    if (sent_us === undefined) return;
    const at = this.#localOf(sent_us) + (this.#now() - this.#localOf(sent_us)) / 2 + this.#aheadUs;
    this.#hear({ kind: 'clock', sent_us, received_us: at, answered_us: at });
  }

  #lie(): void {
    const server = this.#serverUs();
    // As good as any, but for that nobody asked; half a second off.
    const there = server + 500_000;
    this.#hear({ kind: 'clock', sent_us: this.#time.nowUs() - 3, received_us: there, answered_us: there });
    const first = this.#questions.pop();
    if (first !== undefined) {
      this.#hear({ kind: 'clock', sent_us: first, received_us: server + 10, answered_us: server });
    }
    const second = this.#questions.pop();
    if (second !== undefined) {
      const answered_us = server + this.#now() - this.#localOf(second) + 1_000_000;
      this.#hear({ kind: 'clock', sent_us: second, received_us: server, answered_us });
    }
  }

  #localOf(us: number): number {
    return us - BEGIN_US;
  }

  #sleep(length: number): void {
    this.#aheadUs += length;
    this.#slept += length;
    this.#time.standStill(length / 1_000);
    // A page looks at its clocks whenever it draws.
    this.#session.serverNowUs();
  }

  // Nothing of the page that is gone happens any more.
  #reload(): void {
    const [now, wall] = [this.#now(), this.#slept];
    this.#line = null;
    this.#session = this.#begin();
    this.#time.standBusy(now / 1_000);
    this.#time.standStill(wall / 1_000);
    this.#session.start();
  }

  start(): void {
    this.#session.start();
    this.#say();
  }

  #sent(message: ToServer): void {
    switch (message.kind) {
      case 'clock': {
        const { sent_us } = message;
        const at = this.#localOf(sent_us) + this.#aheadUs;
        if (!this.#answered || this.#session.serverNowUs() !== null) this.#questions.push(sent_us);
        else this.#hear({ kind: 'clock', sent_us, received_us: at, answered_us: at });
        return;
      }
      case 'return':
        expect(message.taps.every(({ queued }) => queued)).toBe(true);
        return this.#act(
          'return',
          message.taps.map(({ tap }) => tap),
        );
      case 'hold': {
        const { tap, generation, queued, tapped_us, screen_cue, reason } = message;
        return this.#act('hold', tap, generation, queued, tapped_us, screen_cue, reason);
      }
      case 'report':
        return this.#act('report', message.generation, message.cue, message.due_us, message.fired_us);
      case 'pulse':
        return;
      default:
        throw new Error(`the page says ${message.kind}`);
    }
  }

  #act(what: string, ...values: unknown[]): void {
    this.acts.push([this.#now(), what, ...values]);
  }

  #say(): void {
    const { link: known, tap } = this.#session.view;
    const link = known === 'linked' ? 'linked' : known === 'barred' || known === 'elsewhere' ? 'over' : 'away';
    const taps = JSON.parse(this.#store.get(TAPS) ?? '[]') as HoldTap[];
    const kept = JSON.stringify(taps.map((each) => each.tap));
    const before = this.#said;
    this.#said = [link, tap, kept];
    if (before[0] !== link) this.#act('link', link);
    if (before[1] !== tap) this.#act('tap', tap);
    if (before[2] !== kept) this.#act('kept', JSON.parse(kept));
  }
}

// Two estimates of a clock may be rounded apart; small numbers are generations and cues.
function alike(one: unknown, other: unknown): boolean {
  if (Array.isArray(one) && Array.isArray(other)) {
    return one.length === other.length && one.every((each, n) => alike(each, other[n]));
  }
  if (typeof one === 'number' && typeof other === 'number') {
    return Math.abs(one - other) <= (Math.abs(other) > 1_000 ? 50 : 0);
  }
  return one === other;
}

describe('a page', () => {
  const warn = console.warn;
  it.each(scenarios)('does what the member does: $name', ({ chance, steps, acts }) => {
    console.warn = () => undefined;
    const player = new Player(chance);
    player.start();
    for (const step of steps) player.step(step);
    console.warn = warn;
    const wrong = acts.findIndex((act, n) => !alike(player.acts[n], act));
    const [from, to] = [Math.max(0, wrong - 4), wrong + 1];
    if (wrong >= 0) expect(player.acts.slice(from, to)).toEqual(acts.slice(from, to));
    expect(player.acts.slice(acts.length)).toEqual([]);
  });
});
