// A member's link over a network that misbehaves: lost, dialled again, refused, asleep.
import { describe, expect, it } from 'vitest';
import { memoryStore } from '../core/platform';
import { counting } from '../core/reading';
import { LONGEST_REFUSAL_US, OPENING_US, PROTOCOL, RETRY_FIRST_US, RETRY_LONGEST_US } from '../core/wire';
import { cue, OFFSET_US, state } from './support/fake';
import { entry, room } from './support/room';

describe('the link', () => {
  it('comes back with the personal key and is told the whole state', () => {
    const { time, network, session } = room();
    time.pass(5);
    expect(network.heard[0]).toEqual({ kind: 'return', protocol: PROTOCOL, key: 'a-key', page: 'a-page', taps: [] });
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
    network.say({ kind: 'goodbye', reason: 'This invitation was revoked.', back: 'never' });
    time.pass(30_000);
    session.wake();
    expect([network.lines.length, session.view.link, session.view.linkReason]).toEqual([
      1,
      'barred',
      'This invitation was revoked.',
    ]);
    expect(barred).toEqual([entry]);
  });

  it('that the server closes for other pages of the same person is kept, and opened again when they ask', () => {
    const { time, network, session, barred } = room();
    time.pass(2);
    const reason = 'You have opened 4 other pages since, so this one was closed.';
    network.say({ kind: 'goodbye', reason, back: 'when-asked' });
    time.pass(30_000);
    session.wake();
    expect([network.lines.length, session.view.link, session.view.linkReason]).toEqual([1, 'elsewhere', reason]);
    expect(barred, 'the key is as good as before').toEqual([]);
    session.useHere();
    time.pass(2);
    expect([network.lines.length, session.view.link]).toEqual([2, 'linked']);
    expect(network.heard.filter(({ kind }) => kind === 'return')).toMatchObject([
      { key: 'a-key', page: 'a-page' },
      { key: 'a-key', page: 'a-page' },
    ]);
    session.useHere();
    time.pass(2);
    expect(network.lines.length, 'a page that is linked stays on its line').toBe(2);
  });

  it('that was closed for other pages is opened by a tap, which is sent', () => {
    const { time, network, session } = room();
    time.pass(2);
    network.say({ kind: 'goodbye', reason: 'Elsewhere.', back: 'when-asked' });
    session.hold();
    expect(session.view.link).not.toBe('linked');
    time.pass(2);
    expect(network.heard.at(-1)).toMatchObject({ kind: 'return', taps: [{ tap: 'tap-1', queued: true }] });
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

  it.each([20, 700_000])("takes the server's word that its clock stood still for %d ms", (ms) => {
    const { time, network, session } = room();
    time.pass(2);
    network.pass(3_000);
    network.aheadUs -= ms * 1_000;
    network.stoodUs += ms * 1_000;
    network.pulse();
    time.pass(0);
    expect(session.serverNowUs()).toBe(time.trueUs() + network.aheadUs);
    // Said again, it is no news: what was learned since is kept.
    const { clock } = network.counts;
    network.pulse();
    time.pass(0);
    expect(network.counts.clock).toBe(clock);
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
