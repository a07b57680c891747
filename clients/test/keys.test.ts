// The keys that a browser keeps, one that keeps nothing, and joining.
import { describe, expect, it } from 'vitest';
import { Joining, type Step } from '../core/joining';
import { Keys, markOf, type Entry } from '../core/keys';
import { memoryStore, type Store } from '../core/platform';
import { PROTOCOL, type Role } from '../core/wire';
import { FakeNetwork, FakeTime, welcome } from './support/fake';

function entry(key: string, role: Role, invitation = 'x'): Entry {
  return { key, role, invitation: markOf(invitation), name: key, part: null, production: 'The Salt Stair' };
}

describe('the keys', () => {
  it('of a tab come first, then the newest of the browser that fits the page', () => {
    const lasting = memoryStore();
    const [one, other] = [new Keys(lasting, memoryStore()), new Keys(lasting, memoryStore())];
    one.keep(entry('ana', 'performer'));
    other.keep(entry('teo', 'performer'));
    one.keep(entry('runa', 'desk'));
    other.useHere(entry('teo', 'performer'));
    const phone = (role: Role): boolean => role !== 'desk';
    expect(other.mine(phone)?.key).toBe('teo');
    expect(one.mine((role) => role === 'desk')?.key).toBe('runa');
    expect(new Keys(lasting, memoryStore()).mine(phone)?.key).toBe('teo');
    other.forget('teo');
    expect(other.mine(phone)?.key).toBe('ana');
  });

  it('know the invitation again that they were traded for, without keeping it', () => {
    const lasting = memoryStore();
    const keys = new Keys(lasting, memoryStore());
    keys.keep(entry('ana', 'performer', 'a long secret'));
    expect(keys.from('a long secret')?.key).toBe('ana');
    expect(keys.from('another secret')).toBe(null);
    expect(lasting.get('holdfast.keys')).not.toContain('a long secret');
  });

  it('say so when the browser refuses, and stay with the tab', () => {
    const refusing: Store = { get: () => null, set: () => false, remove: () => undefined };
    const keys = new Keys(refusing, memoryStore());
    expect(keys.keep(entry('ana', 'performer'))).toBe(false);
    expect(keys.mine(() => true)?.key).toBe('ana');
  });

  it('are not taken from anything else that stands in their place', () => {
    for (const text of ['', 'x', '{}', '[1]', '[{"key":1}]', 'null']) {
      const lasting = memoryStore();
      lasting.set('holdfast.keys', text);
      expect(new Keys(lasting, memoryStore()).all()).toEqual([]);
    }
  });

  // FNV-1a, 32 bits: its authors' test vectors for the empty string, "a" and "foobar" (from memory).
  it.each([
    ['', '811c9dc5'],
    ['a', 'e40c292c'],
    ['foobar', 'bf9cf968'],
  ])('mark %j as FNV-1a does', (text, mark) => {
    expect(markOf(text)).toBe(mark);
  });
});

describe('joining', () => {
  function door(): { time: FakeTime; network: FakeNetwork; joining: Joining; step: () => Step } {
    const time = new FakeTime();
    const network = new FakeNetwork(time);
    let step: Step = { step: 'looking' };
    const joining = new Joining(time, network.dial, 'secret', (now) => (step = now));
    joining.start();
    time.pass(2);
    return { time, network, joining, step: () => step };
  }
  const parts = [{ part: 'MARET', taken_by: null }];

  it('looks, chooses, joins, and has a key', () => {
    const { network, joining, step } = door();
    expect(network.heard).toEqual([{ kind: 'look', protocol: PROTOCOL, invitation: 'secret' }]);
    network.say({ kind: 'invited', production: 'The Salt Stair', role: 'performer', parts });
    expect(step()).toMatchObject({ step: 'choosing', parts });
    joining.join('Ana', 'MARET');
    expect(network.heard.at(-1)).toEqual({
      kind: 'join',
      protocol: PROTOCOL,
      invitation: 'secret',
      name: 'Ana',
      part: 'MARET',
      page: 'tap-1',
    });
    network.say({ kind: 'welcome', ...welcome(), key: 'a-key' });
    const mine = { key: 'a-key', invitation: markOf('secret'), role: 'performer', name: 'Ana', part: 'MARET' };
    expect(step()).toEqual({ step: 'joined', entry: { ...mine, production: 'The Salt Stair' } });
  });

  it('can be tried again when it is refused', () => {
    const { network, joining, step } = door();
    network.say({ kind: 'invited', production: 'The Salt Stair', role: 'performer', parts });
    joining.join('Ana', 'MARET');
    network.say({ kind: 'refused', asked: 'join', reason: 'Somebody is called Ana already.' });
    expect(step()).toMatchObject({ step: 'choosing', reason: 'Somebody is called Ana already.' });
  });

  it('ends where the invitation is worth nothing, and does not ask again and again', () => {
    const { time, network, step } = door();
    network.say({ kind: 'refused', asked: 'look', reason: 'This invitation was revoked.' });
    time.pass(30_000);
    expect([step(), network.lines.length]).toEqual([{ step: 'refused', reason: 'This invitation was revoked.' }, 1]);
  });
});
