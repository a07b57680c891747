// A tap on HOLD: the first thing that a page does, kept until it is written, never said to be told when it is not.
import { describe, expect, it } from 'vitest';
import { memoryStore } from '../core/platform';
import { counting } from '../core/reading';
import { Session } from '../core/session';
import { cue, FakeNetwork, FakeTime, hold, OFFSET_US, state, welcome } from './support/fake';
import { entry, noSenses, room, sentKind } from './support/room';

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
      page: 'a-page',
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
      page: 'a-page',
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
    other.network.say({ kind: 'goodbye', reason: 'Another page came.', back: 'never' });
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
    network.say({ kind: 'goodbye', reason: 'You came by another way.', back: 'never' });
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
