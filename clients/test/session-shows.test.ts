// What a page shows over its link, and what must not stop it from showing it.
import { encode } from '@msgpack/msgpack';
import { describe, expect, it } from 'vitest';
import { FakeNetwork, hold } from './support/fake';
import { room } from './support/room';

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
    const own = { name: 'Ana', role: 'performer', newcomers: [], waits: null } as const;
    expect(session.view.me).toEqual({ member: 3, ...own, part: 'MARET', ready: false });
    network.say({ kind: 'you', ...own, newcomers: [], part: 'OSK', ready: true });
    expect(session.view.me).toEqual({ member: 3, ...own, part: 'OSK', ready: true });
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
