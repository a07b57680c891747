// A member at a page over a network that misbehaves: links, taps, generations, refusals.
import { decode, encode } from '@msgpack/msgpack';
import { describe, expect, it } from 'vitest';
import type { Entry } from '../core/keys';
import { memoryStore, type Store } from '../core/platform';
import { counting } from '../core/reading';
import type { Shown } from '../core/scheduler';
import { Session, type Senses } from '../core/session';
import {
  LONGEST_REFUSAL_US,
  OPENING_US,
  PROTOCOL,
  RETRY_FIRST_US,
  RETRY_LONGEST_US,
  type HoldTap,
  type ToServer,
} from '../core/wire';
import { cue, FakeNetwork, FakeTime, hold, OFFSET_US, state, welcome } from './support/fake';

const entry: Entry = {
  key: 'a-key',
  invitation: '00000000',
  role: 'performer',
  name: 'Ana',
  part: 'MARET',
  production: 'The Salt Stair',
};

const noSenses: Senses = {
  arm: () => undefined,
  disarm: () => undefined,
  shown: () => undefined,
  silence: () => undefined,
  callHold: () => false,
};

function sentKind(bytes: Uint8Array): string {
  return (decode(bytes) as ToServer).kind;
}

interface Room {
  time: FakeTime;
  network: FakeNetwork;
  session: Session;
  shown: Shown[];
  silenced: () => number;
  called: () => number;
  barred: Entry[];
  holds: () => HoldTap[];
}

function room(store: Store = memoryStore(), seed = 1): Room {
  const time = new FakeTime(seed);
  const network = new FakeNetwork(time);
  const shown: Shown[] = [];
  const barred: Entry[] = [];
  let silences = 0;
  let calls = 0;
  const session = new Session({
    platform: time,
    dial: network.dial,
    store,
    senses: {
      ...noSenses,
      shown: (each) => shown.push(each),
      silence: () => (silences += 1),
      callHold: () => ((calls += 1), true),
    },
    visible: () => true,
    entry,
    barred: (gone) => barred.push(gone),
  });
  session.start();
  const holds = () => network.heard.filter((message) => message.kind === 'hold');
  return { time, network, session, shown, silenced: () => silences, called: () => calls, barred, holds };
}

describe('what a page shows', () => {
  const shown = (network: FakeNetwork) =>
    network.heard.flatMap((message) => (message.kind === 'show' ? [message.subjects] : []));

  it('is asked on every new line, as it is then, and nothing is asked where nothing is shown', () => {
    const { time, network, session } = room();
    time.pass(5);
    expect(shown(network)).toEqual([]);
    const hide = session.show(['roster', 'holds']);
    const hideMore = session.show(['holds']);
    expect(shown(network)).toEqual([['roster', 'holds']]);
    network.lines.at(-1)?.closed();
    time.pass(1_000);
    expect(shown(network)).toEqual([
      ['roster', 'holds'],
      ['roster', 'holds'],
    ]);
    hide();
    hide();
    expect(shown(network).at(-1)).toEqual(['holds']);
    hideMore();
    expect(shown(network).at(-1)).toEqual([]);
  });

  it('is kept while the line is gone, and replaced by what is told whole', () => {
    const { time, network, session } = room();
    session.show(['troubles', 'missing']);
    time.pass(5);
    network.say({ kind: 'subject', tells: { subject: 'troubles', troubles: ['one'] } });
    network.say({ kind: 'subject', tells: { subject: 'missing', generation: 1, parts: [] } });
    expect([session.view.troubles, session.view.missing]).toEqual([['one'], { generation: 1, parts: [] }]);
    network.lines.at(-1)?.closed();
    time.pass(1_000);
    expect([session.view.link, session.view.troubles, session.view.missing]).toEqual(['linked', ['one'], null]);
    network.say({ kind: 'subject', tells: { subject: 'troubles', troubles: [] } });
    expect(session.view.troubles).toEqual([]);
  });

  it('and what is its own is on every page', () => {
    const { time, network, session } = room();
    time.pass(5);
    expect(session.view.me).toEqual({ member: 3, name: 'Ana', role: 'performer', part: 'MARET', ready: false });
    network.say({ kind: 'you', name: 'Ana', role: 'performer', part: 'OSK', ready: true });
    expect(session.view.me).toEqual({ member: 3, name: 'Ana', role: 'performer', part: 'OSK', ready: true });
  });
});

describe('the link', () => {
  it('comes back with the personal key and is told the whole state', () => {
    const { time, network, session } = room();
    time.pass(5);
    expect(network.heard[0]).toEqual({ kind: 'return', protocol: PROTOCOL, key: 'a-key', taps: [] });
    expect([session.view.link, session.view.me?.name, session.view.state?.stage]).toEqual(['linked', 'Ana', 'running']);
  });

  it('pulses every 300 ms and asks for the time quickly at first, eight times a second in a run, else once a second', () => {
    const { time, network } = room();
    const asked = (ms: number): number => {
      const before = network.counts.clock;
      network.pass(ms);
      return network.counts.clock - before;
    };
    time.pass(2);
    expect(asked(1_500)).toBe(30);
    expect(network.counts.pulse).toBe(6);
    asked(500);
    expect(asked(5_000)).toBe(40);
    network.say({ kind: 'state', ...state({ stage: 'idle' }) });
    asked(1_000);
    expect(asked(5_000)).toBe(5);
    network.say({ kind: 'state', ...state({ stage: 'places' }) });
    expect(asked(1_000), 'at once, not after the wait that had begun').toBeGreaterThanOrEqual(8);
  });

  it('is lost after a second of silence, not before, and nothing counts from then on', () => {
    const { time, network, session, silenced } = room();
    time.pass(2);
    network.pass(600);
    network.stalled = true;
    time.pass(999);
    expect([session.view.link, counting(session.view)]).toEqual(['linked', true]);
    const before = silenced();
    time.pass(1);
    expect([session.view.link, counting(session.view), session.view.shown]).toEqual(['lost', false, null]);
    expect(silenced()).toBeGreaterThan(before);
  });

  it('fires nothing that it had been given before it was lost', () => {
    const { time, network, shown } = room();
    time.pass(2);
    network.pass(300);
    network.say({ kind: 'cue', ...cue(0, time.nowUs() + OFFSET_US + 1_400_000) });
    network.stalled = true;
    time.pass(3_000);
    expect(shown).toEqual([]);
  });

  it('is dialled again with growing waits, each between half and the whole of its step, never longer than one second', () => {
    for (let seed = 1; seed <= 50; seed += 1) {
      const { time, network } = room(memoryStore(), seed);
      time.pass(2);
      network.down = true;
      network.lines.at(-1)?.closed();
      let lost = time.nowUs();
      for (let failures = 0; failures < 9; failures += 1) {
        const before = network.lines.length;
        while (network.lines.length === before) time.pass(1);
        const waited = (time.nowUs() - lost) / 1_000;
        const step = Math.min(RETRY_LONGEST_US, RETRY_FIRST_US * 2 ** failures) / 1_000;
        expect(waited, `seed ${seed}`).toBeGreaterThanOrEqual(step / 2 - 1);
        expect(waited, `seed ${seed}`).toBeLessThanOrEqual(step + 2);
        time.pass(1);
        lost = time.nowUs();
      }
    }
  });

  it('is dialled at once when the page wakes', () => {
    const { time, network, session } = room();
    time.pass(2);
    network.down = true;
    network.lines.at(-1)?.closed();
    time.pass(20_000);
    network.down = false;
    const before = network.lines.length;
    session.wake();
    expect(network.lines.length).toBe(before + 1);
    time.pass(5);
    expect(session.view.link).toBe('linked');
  });

  it('hears nothing from a line that it has given up', () => {
    const { time, network, session } = room();
    time.pass(2);
    const old = network.lines[0];
    old?.closed();
    time.pass(400);
    expect(network.lines.length).toBe(2);
    old?.closed();
    expect(session.view.link).toBe('linked');
  });

  it('that the server closes for good stays closed, says why, and gives the key up', () => {
    const { time, network, session, barred } = room();
    time.pass(2);
    network.say({ kind: 'goodbye', reason: 'This invitation was revoked.', for_good: true });
    time.pass(30_000);
    session.wake();
    expect([network.lines.length, session.view.link, session.view.linkReason]).toEqual([
      1,
      'barred',
      'This invitation was revoked.',
    ]);
    expect(barred).toEqual([entry]);
  });

  it('whose key is refused stays closed and says why', () => {
    const { time, network, session } = room();
    network.welcome = null;
    time.pass(2);
    network.say({ kind: 'refused', asked: 'return', reason: 'This key is not known here.' });
    time.pass(30_000);
    expect([network.lines.length, session.view.linkReason]).toEqual([1, 'This key is not known here.']);
  });

  it.each([20, 700, 3_600_000])('takes a clock that stood still for %d ms for what it is', (ms) => {
    const { time, network, session } = room();
    time.pass(2);
    network.pass(3_000);
    time.standStill(ms);
    expect(session.serverNowUs(), 'what was known of the clock is not believed any more').toBe(null);
    time.pass(0);
    expect(session.serverNowUs()).toBe(time.trueUs() + OFFSET_US);
  });

  it('learns from a word out of the future that it slept, even when the wall clock slept too', () => {
    const { time, network, session } = room();
    time.pass(2);
    network.pass(3_000);
    network.aheadUs += 3_600_000_000;
    network.pulse();
    time.pass(0);
    expect(session.serverNowUs()).toBe(time.trueUs() + network.aheadUs);
  });

  it('believes no answer about the time that it has not asked for, and each one once', () => {
    const { time, network, session } = room();
    time.pass(2);
    network.pass(3_000);
    const at = time.nowUs();
    const known = session.serverNowUs();
    for (const sent_us of [at, at - 3, at - 1_000_000]) {
      network.say({ kind: 'clock', sent_us, received_us: at, answered_us: at });
    }
    expect(session.serverNowUs()).toBe(known);
  });

  it('waits longer for the answer to its key than for the next word, for a server may hold a refusal back', () => {
    const { time, network, session } = room();
    network.welcome = null;
    time.pass(2);
    time.pass(LONGEST_REFUSAL_US / 1_000);
    expect(network.lines.length).toBe(1);
    network.say({ kind: 'refused', asked: 'return', reason: 'This key is not known here.' });
    time.pass(30_000);
    expect([network.lines.length, session.view.link]).toEqual([1, 'barred']);
  });

  it('that does not open is given up and dialled again', () => {
    const { time, network } = room();
    network.stalled = true;
    time.pass(2);
    network.lines.at(-1)?.closed();
    time.pass(250);
    expect(network.lines.length).toBe(2);
    time.pass(OPENING_US / 1_000 + 500);
    expect(network.lines.length).toBe(3);
  });
});

describe('a message that this page does not know', () => {
  it('is counted, told in the console once, and says that the line lives', () => {
    const { time, network, session } = room();
    const told: unknown[] = [];
    const console_ = console.warn;
    console.warn = (said: unknown) => told.push(said);
    time.pass(5);
    for (let n = 0; n < 5; n += 1) {
      network.lines.at(-1)?.message(encode({ kind: 'of tomorrow' }));
      time.pass(900);
    }
    console.warn = console_;
    expect([...session.unknown]).toEqual([['the message “of tomorrow”', 5]]);
    expect([told.length, session.view.link]).toEqual([1, 'linked']);
  });
});

describe('a tap on HOLD', () => {
  it('is the first thing that this page does, before its store, its senses and the clock', () => {
    const time = new FakeTime();
    const network = new FakeNetwork(time);
    const did: string[] = [];
    const store = memoryStore();
    const session = new Session({
      platform: time,
      dial: (events) => {
        const line = network.dial(events);
        return { ...line, send: (bytes) => (did.push(sentKind(bytes)), line.send(bytes)) };
      },
      store: { ...store, set: (name, value) => (did.push('store'), store.set(name, value)) },
      senses: { ...noSenses, silence: () => did.push('silence') },
      visible: () => true,
      entry,
      barred: () => undefined,
    });
    session.start();
    time.pass(2);
    network.pass(300);
    time.standStill(50);
    did.length = 0;
    session.hold();
    time.pass(0);
    expect(did).toEqual(['hold', 'store', 'silence', 'clock']);
  });

  it('is never said to be on its way over a line that takes nothing', () => {
    const time = new FakeTime();
    const network = new FakeNetwork(time);
    let closing = false;
    const session = new Session({
      platform: time,
      dial: (events) => {
        const line = network.dial(events);
        return { ...line, send: (bytes) => !closing && line.send(bytes) };
      },
      store: memoryStore(),
      senses: noSenses,
      visible: () => true,
      entry,
      barred: () => undefined,
    });
    session.start();
    time.pass(2);
    network.pass(300);
    closing = true;
    session.hold();
    expect(session.view.tap).toBe('untold');
  });

  it('on a frozen page whose link has been silent goes out, and is not said to be', () => {
    const { time, network, session, holds } = room();
    time.pass(2);
    network.pass(300);
    network.heard = [];
    time.standBusy(1_200);
    session.hold();
    expect([holds().length, session.view.tap]).toEqual([1, 'untold']);
  });

  it('is kept over a lost link until it is written, though it was held', () => {
    const store = memoryStore();
    const { time, network, session } = room(store);
    time.pass(2);
    session.hold();
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'held', hold: 1 });
    network.lines.at(-1)?.closed();
    time.pass(300);
    const back = network.heard.filter((message) => message.kind === 'return').at(-1);
    expect(back?.taps.map(({ tap, queued }) => [tap, queued])).toEqual([['tap-1', true]]);
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'written', hold: 1 });
    expect(room(store).session.view.tap).toBe('none');
  });

  it('is left in the store by another page of the same member', () => {
    const store = memoryStore();
    const [one, other] = [room(store), room(store)];
    for (const { time } of [one, other]) time.pass(2);
    one.time.token = () => 'one';
    one.session.hold();
    other.session.hold();
    other.network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'written', hold: 1 });
    other.network.say({ kind: 'goodbye', reason: 'Another page came.', for_good: true });
    const third = room(store);
    third.time.pass(2);
    const [back] = third.network.heard;
    expect(back?.kind === 'return' && back.taps.map(({ tap }) => tap)).toEqual(['one']);
  });

  it('with a reason that the first did not have is another one', () => {
    const { time, session, holds } = room();
    time.pass(2);
    session.hold();
    session.hold('Blade bent');
    expect(holds().map(({ reason }) => reason)).toEqual([null, null, 'Blade bent']);
  });

  it('dials at once while the next attempt waits', () => {
    const { time, network, session } = room();
    time.pass(2);
    network.lines.at(-1)?.closed();
    session.hold();
    expect(network.lines.length).toBe(2);
  });

  it.each([
    ['a replaced key holds', true, 'held'],
    ['a key that is worth nothing says so', false, 'refused'],
  ])('on a closed page is tried once more: %s', (_, known, said) => {
    const { time, network, session, holds } = room();
    network.welcome = null;
    time.pass(2);
    network.say({ kind: 'refused', asked: 'return', reason: 'You came by another way.' });
    expect(session.view.link).toBe('barred');
    network.heard = [];
    session.hold();
    time.pass(5);
    const [back] = network.heard;
    expect(back?.kind === 'return' && back.taps.map(({ tap, queued }) => [tap, queued])).toEqual([['tap-1', true]]);
    expect([session.view.tap, holds()]).toEqual(['untold', []]);
    if (known) network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'held', hold: null });
    network.say({ kind: 'refused', asked: 'return', reason: 'You came by another way.' });
    time.pass(10_000);
    expect([session.view.tap, session.view.link, network.lines.length]).toEqual([said, 'barred', 2]);
  });

  it('that nobody has answered is brought once more when the server says goodbye for good', () => {
    const { time, network, session } = room();
    time.pass(2);
    session.hold();
    network.say({ kind: 'goodbye', reason: 'You came by another way.', for_good: true });
    network.welcome = null;
    time.pass(300);
    expect(network.heard.at(-1)).toMatchObject({ kind: 'return', taps: [{ tap: 'tap-1', queued: true }] });
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'held', hold: null });
    network.say({ kind: 'refused', asked: 'return', reason: 'You came by another way.' });
    expect([session.view.tap, session.view.link]).toEqual(['held', 'barred']);
  });

  it('goes out at once, with where this screen was', () => {
    const { time, network, session, holds } = room();
    time.pass(2);
    network.pass(300);
    network.say({ kind: 'cue', ...cue(7, null) });
    session.hold('Blade bent');
    const tapped_us = time.nowUs() + OFFSET_US;
    const expected = { tap: 'tap-1', generation: 1, queued: false, tapped_us, screen_cue: 7, reason: 'Blade bent' };
    expect(holds()).toEqual([{ kind: 'hold', ...expected }]);
    expect([session.view.tap, counting(session.view)]).toEqual(['sending', false]);
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'held', hold: 1 });
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'written', hold: 1 });
    network.pass(3_000);
    expect([session.view.tap, holds().length]).toEqual(['written', 1]);
  });

  it('that is not answered in half a second says that nobody was told, and is the same tap each time it is sent', () => {
    const { time, network, session, holds } = room();
    time.pass(2);
    session.hold();
    network.pass(400);
    expect(session.view.tap).toBe('sending');
    network.pass(2_100);
    expect(session.view.tap).toBe('untold');
    expect(holds().length).toBeGreaterThanOrEqual(4);
    expect(new Set(holds().map(({ tap }) => tap))).toEqual(new Set(['tap-1']));
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'held', hold: 1 });
    const sent = holds().length;
    network.pass(2_000);
    expect([session.view.tap, holds().length]).toEqual(['held', sent]);
  });

  it('five times in a fright is one call', () => {
    const { time, network, session, holds } = room();
    time.pass(2);
    for (let taps = 0; taps < 5; taps += 1) session.hold();
    network.pass(1_000);
    expect(new Set(holds().map(({ tap }) => tap)).size).toBe(1);
  });

  it('without a link is kept, says so at once, and is sent first thing when the link is back', () => {
    const { time, network, session, holds } = room();
    time.pass(2);
    network.pass(300);
    network.stalled = true;
    time.pass(1_200);
    session.hold();
    expect(session.view.tap).toBe('untold');
    network.stalled = false;
    network.heard = [];
    time.pass(6_000);
    expect(holds()[0]).toMatchObject({ kind: 'hold', generation: 1, queued: true, screen_cue: null });
    expect(network.heard.slice(0, 2).map((message) => message.kind)).toEqual(['return', 'hold']);
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'late', hold: null });
    expect(session.view.tap).toBe('late');
  });

  it('that was under way when the link broke counts as made without one', () => {
    const { time, network, session, holds } = room();
    time.pass(2);
    network.stalled = true;
    session.hold();
    time.pass(1_500);
    network.stalled = false;
    time.pass(6_000);
    expect(holds()[0]).toMatchObject({ tap: 'tap-1', queued: true });
  });

  it('outlives the page', () => {
    const store = memoryStore();
    const first = room(store);
    first.network.stalled = true;
    first.session.hold();
    const second = room(store);
    expect(second.session.view.tap).toBe('untold');
    second.time.pass(5);
    const back = second.network.heard[0];
    expect(back?.kind === 'return' && back.taps).toMatchObject([{ tap: 'tap-1', queued: true }]);
    second.network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'late', hold: null });
    expect(room(store).session.view.tap).toBe('none');
  });

  it('silences this page before anybody has answered', () => {
    const { time, network, session, shown } = room();
    time.pass(2);
    network.pass(300);
    network.say({ kind: 'cue', ...cue(0, time.nowUs() + OFFSET_US + 200_000) });
    session.hold();
    network.say({ kind: 'cue', ...cue(1, time.nowUs() + OFFSET_US + 300_000) });
    network.pass(900);
    expect(shown).toEqual([]);
  });

  it('while a hold stands does not silence the run that comes after it', () => {
    const { time, network, session, shown } = room();
    network.welcome = welcome({ stage: 'held', generation: 2, hold: hold(2) });
    time.pass(2);
    network.pass(300);
    session.hold();
    network.say({ kind: 'tap-answer', tap: 'tap-1', outcome: 'written', hold: 1 });
    network.say({ kind: 'state', ...state({ generation: 2, now_us: OFFSET_US + 1, stage: 'running' }) });
    network.say({ kind: 'cue', ...cue(0, null, 2) });
    expect([shown.length, session.view.tap]).toEqual([1, 'none']);
  });
});

describe('a hold of somebody else', () => {
  it('kills the cues that wait, and those that come after it', () => {
    const { time, network, session, shown } = room();
    time.pass(2);
    network.pass(300);
    network.say({ kind: 'cue', ...cue(0, time.nowUs() + OFFSET_US + 200_000) });
    network.say({ kind: 'held', ...hold(2) });
    network.say({ kind: 'cue', ...cue(1, time.nowUs() + OFFSET_US + 300_000) });
    network.pass(2_000);
    expect([shown, session.view.state?.stage]).toEqual([[], 'held']);
  });
});

describe('a listener that fails', () => {
  it('takes nobody else down', () => {
    const { time, network, session } = room();
    const stages: unknown[] = [];
    const complaint = console.error;
    console.error = () => undefined;
    session.listen(() => {
      throw new Error('cannot draw');
    });
    session.listen((view) => stages.push(view.state?.stage));
    time.pass(2);
    network.say({ kind: 'held', ...hold(2) });
    console.error = complaint;
    expect(stages.at(-1)).toBe('held');
  });
});

describe('a trial of the hold', () => {
  const tried = (network: FakeNetwork) =>
    network.heard.flatMap((message) => (message.kind === 'tried' ? [message] : []));
  const stopped = () => ({ kind: 'state', ...state({ stage: 'stopped', setup: null }) }) as const;

  it('is shown, sounded and answered once it is on the screen, and holds nothing', () => {
    const { time, network, session, called } = room();
    time.pass(5);
    network.say(stopped());
    network.say({ kind: 'trial', trial: 4, by: 'Ines' });
    expect([session.view.trial, called(), tried(network)]).toEqual([{ trial: 4, by: 'Ines' }, 1, []]);
    time.pass(20);
    expect(tried(network)).toEqual([{ kind: 'tried', trial: 4, shown: true, felt: true }]);
    expect([session.view.state?.stage, session.view.generation]).toEqual(['stopped', 1]);
    network.pass(4_000, 1);
    expect(session.view.trial).toBeNull();
  });

  it('is nothing to a page on which something runs or is held, and ends with what is real', () => {
    const { time, network, session, called } = room();
    time.pass(5);
    network.say({ kind: 'trial', trial: 1, by: 'Ines' });
    network.pass(100, 1);
    expect([session.view.trial, called(), tried(network)]).toEqual([null, 0, []]);
    network.say(stopped());
    network.say({ kind: 'trial', trial: 2, by: 'Ines' });
    network.say({ kind: 'stop', generation: 1, at_us: 0 });
    expect([session.view.trial, session.view.state?.stage, called()]).toEqual([null, 'held', 2]);
  });

  it('is not shown by what follows it once it is over', () => {
    const { time, network, session } = room();
    time.pass(5);
    network.say(stopped());
    network.say({ kind: 'trial', trial: 1, by: 'Ines' });
    network.pass(3_000, 1);
    network.say({ kind: 'trial', trial: 2, by: 'Bram' });
    network.pass(1_500, 1);
    expect(session.view.trial?.by).toBe('Bram');
  });
});

describe('a hold', () => {
  it('is called on this device once, however often it is told', () => {
    const { time, network, called } = room();
    time.pass(5);
    network.say({ kind: 'stop', generation: 1, at_us: 0 });
    network.say({ kind: 'stop', generation: 1, at_us: 0 });
    network.say({ kind: 'held', ...hold(2) });
    expect(called()).toBe(1);
  });
});
