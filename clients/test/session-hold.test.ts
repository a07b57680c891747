// What a hold, and the trial of one, does to a page.
import { describe, expect, it } from 'vitest';
import { cue, FakeNetwork, hold, OFFSET_US, state } from './support/fake';
import { room } from './support/room';

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
