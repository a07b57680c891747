// The review page without a browser: a selection goes into an address and comes back, and a call that goes on is followed
// soon, and never too often.
import { describe, expect, it } from 'vitest';
import { NOTHING, type View } from '../core/model';
import { eventOf, EVERYTHING, fromQuery, same, toQuery } from '../review/filter';
import { Following } from '../review/following';
import { hold, room, state } from '../browser/support/pretend';
import { FakeTime } from './support/fake';

describe('a selection', () => {
  it.each([
    EVERYTHING,
    { ...EVERYTHING, fight: 'The Ferryman’s Toll & more?#=+' },
    { since: '2026-03-01', until: '2026-03-31', fight: 'ليل', phrase: '100 %', weapons: 'as the score says' },
  ])('comes back from its address: %o', (filter) => {
    expect(fromQuery(toQuery(filter))).toEqual(filter);
    expect(same(filter, fromQuery(toQuery(filter)))).toBe(true);
  });

  it('leaves alone what it does not know, and takes nothing for nothing', () => {
    expect(fromQuery('?fight=%20&colour=red&phrase=')).toEqual(EVERYTHING);
    expect(toQuery(EVERYTHING)).toBe('');
  });

  it.each([
    ['#e12', 12],
    ['#e', null],
    ['#e12x', null],
    ['#f0p1m2', null],
    ['', null],
  ])('points at an event: %s', (hash, event) => expect(eventOf(hash)).toBe(event));
});

describe('a call that goes on', () => {
  const at = (stage: 'idle' | 'running' | 'held' | 'stopped', generation: number): View => ({
    ...NOTHING,
    ...room,
    link: 'linked',
    generation,
    state: { ...state, stage, generation },
  });

  function follow() {
    const time = new FakeTime();
    let asked = 0;
    const following = new Following(time, () => (asked += 1));
    return { time, following, asked: () => asked };
  }

  it('is asked about soon after a hold, once, and not for what was there before', () => {
    const { time, following, asked } = follow();
    following.told(at('running', 4));
    time.pass(60_000);
    expect(asked()).toBe(0);
    following.told(at('held', 5));
    following.told(at('held', 5));
    time.pass(1_000);
    expect(asked()).toBe(0);
    time.pass(500);
    expect(asked()).toBe(1);
    time.pass(60_000);
    expect(asked()).toBe(1);
  });

  it('is never asked about more often than every four seconds, and the last that happens is not forgotten', () => {
    const { time, following, asked } = follow();
    following.told(at('idle', 1));
    for (let generation = 2; generation < 102; generation += 1) {
      following.told(at(generation % 2 === 0 ? 'held' : 'stopped', generation));
      time.pass(100);
    }
    const during = asked();
    expect(during).toBeGreaterThan(0);
    expect(during).toBeLessThanOrEqual(4);
    time.pass(5_000);
    expect(asked()).toBe(during + 1);
  });

  it('is asked about when something was noted, and not before the page knows what there is', () => {
    const { time, following, asked } = follow();
    following.told({ ...at('stopped', 4), checks: null });
    following.told(at('stopped', 4));
    time.pass(60_000);
    expect(asked()).toBe(0);
    following.told({ ...at('stopped', 4), holds: [{ hold, notes: ['the grip'], earlier_notes: 0 }] });
    time.pass(60_000);
    expect(asked()).toBe(1);
  });

  it('is not asked about while a run goes or the line tells nothing', () => {
    const { time, following, asked } = follow();
    following.told(at('running', 4));
    following.told({ ...at('held', 5), link: 'lost' });
    following.told({ ...at('running', 4), news: 'something' });
    time.pass(60_000);
    expect(asked()).toBe(0);
  });
});
