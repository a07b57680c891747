// What a page knows after what it is told, in whatever order it is told it.
import { describe, expect, it } from 'vitest';
import { holdFace } from '../core/hold';
import { NOTHING, reduce, type Event, type View } from '../core/model';
import { comingMoves, counting, missing, stageOf } from '../core/reading';
import { vitalsOf } from '../core/vitals';
import type { MoveView, Stage, ToMember } from '../core/wire';
import { chance } from './support/chance';
import { cue, hold, OFFSET_US, state, welcome } from './support/fake';

const told = (message: ToMember): Event => ({ kind: 'message', message });
const all = (events: Event[], from: View = NOTHING): View => events.reduce(reduce, from);
const linked: Event = { kind: 'link', link: 'linked', reason: null };
const here = all([linked, told({ kind: 'welcome', ...welcome() })]);
const shown = (number: number, generation: number): Event => ({
  kind: 'shown',
  shown: { cue: cue(number, null, generation), late_us: null, at_us: 0, again: false },
});

describe('a generation that is raised', () => {
  it.each([
    ['a pulse', told({ kind: 'pulse', now_us: 0, generation: 2, stood_us: 0 })],
    ['a hold', told({ kind: 'held', ...hold(2) })],
    ['a state', told({ kind: 'state', ...state({ generation: 2, stage: 'stopped' }) })],
  ])('by %s takes the cue off the screen and stops the count', (_, event) => {
    const before = reduce(here, shown(3, 1));
    expect([before.shown?.cue.cue, counting(before)]).toEqual([3, true]);
    const after = reduce(before, event);
    expect([after.shown, counting(after)]).toEqual([null, false]);
    expect(reduce(after, shown(4, 1)).shown).toBe(null);
  });

  it('leaves the stage unknown until the server says it', () => {
    const raised = reduce(here, told({ kind: 'pulse', now_us: 0, generation: 2, stood_us: 0 }));
    expect(stageOf(raised)).toBe(null);
    expect(stageOf(reduce(raised, told({ kind: 'state', ...state({ generation: 2, stage: 'places' }) })))).toBe(
      'places',
    );
  });
});

describe('a hold', () => {
  it('stands although an older state comes after it', () => {
    const held = all([told({ kind: 'held', ...hold(2) }), told({ kind: 'state', ...state() })], here);
    expect([stageOf(held), held.state?.hold?.hold]).toEqual(['held', 1]);
  });

  it('that was released does not come back by a late word of it', () => {
    const released = state({ generation: 2, stage: 'stopped' });
    const view = all([told({ kind: 'held', ...hold(2) }), told({ kind: 'state', ...released })], here);
    const after = reduce(view, told({ kind: 'held', ...hold(2, { written: true }) }));
    expect([stageOf(after), after.state?.hold]).toEqual(['stopped', null]);
  });

  it('keeps the callers that a state told although the first word of it comes after', () => {
    const called = hold(2, { calls: 3, caller_count: 2 });
    const view = reduce(here, told({ kind: 'state', ...state({ generation: 2, stage: 'held', hold: called }) }));
    expect(reduce(view, told({ kind: 'held', ...hold(2) })).state?.hold?.calls).toBe(3);
  });

  it('of a server that began anew counts although its generation is a lower one', () => {
    const old = reduce(here, told({ kind: 'pulse', now_us: 0, generation: 900, stood_us: 0 }));
    const anew = all(
      [told({ kind: 'welcome', ...welcome({ generation: 1 }) }), told({ kind: 'held', ...hold(2) })],
      old,
    );
    expect(stageOf(anew)).toBe('held');
  });
});

it('a lost link takes the cue off the screen, and an old state never replaces a newer one', () => {
  const lost = all([shown(1, 1), { kind: 'link', link: 'lost', reason: null }], here);
  expect([lost.shown, stageOf(lost), vitalsOf(lost).sheet?.title]).toEqual([null, null, 'NO LINK']);
  const newer = told({ kind: 'state', ...state({ now_us: OFFSET_US + 9, stage: 'complete' }) });
  expect(stageOf(all([newer, told({ kind: 'state', ...state() })], here))).toBe('complete');
});

it('whatever is told in whatever order: the generation never falls on a line, and what is shown is of the one that lives', () => {
  for (let seed = 1; seed <= 3_000; seed += 1) {
    const random = chance(seed);
    let view = here;
    for (let step = 0; step < 25; step += 1) {
      const generation = Math.floor(random() * 5);
      const events: Event[] = [
        told({ kind: 'pulse', now_us: 0, generation, stood_us: 0 }),
        told({ kind: 'held', ...hold(generation, { hold: generation }) }),
        told({ kind: 'state', ...state({ generation, now_us: Math.floor(random() * 1e6) }) }),
        told({ kind: 'cue', ...cue(step, null, generation) }),
        shown(step, generation),
        { kind: 'link', link: random() < 0.2 ? 'lost' : 'linked', reason: null },
      ];
      const before = view.generation;
      const event = events[Math.floor(random() * events.length)];
      if (event !== undefined) view = reduce(view, event);
      expect(view.generation, `seed ${seed}`).toBeGreaterThanOrEqual(before);
      if (view.shown !== null) expect(view.shown.cue.generation, `seed ${seed}`).toBe(view.generation);
      if (counting(view))
        expect([view.link, view.state?.generation], `seed ${seed}`).toEqual(['linked', view.generation]);
    }
  }
});

it('refusals stand until they are read, three at most, none twice', () => {
  const refused = (reason: string): Event => ({ kind: 'refused', asked: 'note', reason });
  const view = all(['a', 'b', 'b', 'c', 'd'].map(refused), here);
  expect(view.refusals.map(({ reason }) => reason)).toEqual(['b', 'c', 'd']);
  const [first] = view.refusals;
  expect(all([{ kind: 'read', refusal: first?.id ?? 0 }], view).refusals.map(({ reason }) => reason)).toEqual([
    'c',
    'd',
  ]);
});

it('a refusal goes once what was asked has been done, and no other does', () => {
  const refused = (asked: string): Event => ({ kind: 'refused', asked, reason: `not done: ${asked}` });
  const asked = (view: View): string[] => view.refusals.map((refusal) => refusal.asked);
  const before = all([refused('start'), refused('places'), refused('note')], here);
  const stage = (view: View, now: Stage, generation: number): View =>
    all([{ kind: 'message', message: { kind: 'state', ...state({ stage: now, generation }) } }], view);
  const { generation } = here;
  // More of the same changes nothing; places do places, the count-in does the start.
  expect(asked(stage(before, here.state?.stage ?? 'idle', generation))).toEqual(['start', 'places', 'note']);
  const places = stage(before, 'places', generation + 1);
  expect(asked(places)).toEqual(['start', 'note']);
  expect(asked(stage(places, 'held', generation + 2))).toEqual(['start', 'note']);
  expect(asked(stage(places, 'count-in', generation + 1))).toEqual(['note']);
});

describe('HOLD says', () => {
  const rows: [string, Partial<View>, string, string][] = [
    ['what it does', {}, 'plain', 'HOLD'],
    ['that it is on its way', { tap: 'sending' }, 'sending', 'HOLD'],
    ['that nobody was told', { tap: 'untold' }, 'untold', 'NOT TOLD'],
    ['that nobody was told, without a link too', { tap: 'untold', link: 'lost' }, 'untold', 'NOT TOLD'],
    ['that there is no link', { link: 'lost' }, 'plain', 'HOLD'],
    ['that everything stands', { state: state({ stage: 'held', hold: hold(1) }) }, 'held', 'I call it too'],
  ];
  it.each(rows)('%s', (_, more, look, word) => {
    expect(holdFace({ ...here, ...more }, 'rest')).toMatchObject({ look, word });
  });

  it('who called, and whether it is in the log', () => {
    const face = (written: boolean) =>
      holdFace({ ...here, state: state({ stage: 'held', hold: hold(1, { written }) }) }, '');
    expect(face(false).detail).toContain('Called by Idris.');
    expect(face(false).detail).toContain('Not in the log yet.');
    expect(face(true).detail).toContain('Written in the log.');
  });

  it('three callers by name at most, each once, however many called', () => {
    const callers = ['Nela', 'Bo', 'Mo', 'Teo'].map((name, n) => {
      return { member: 10 + n, name, role: 'observer' as const, times: n === 0 ? 12 : 1, reason: null, screen: null };
    });
    const face = (count: number) => {
      const called = hold(1, { calls: 15 + count, caller_count: count, callers: callers.slice(0, count) });
      return holdFace({ ...here, state: state({ stage: 'held', hold: called }) }, '').detail;
    };
    expect(face(1)).toContain('Called by Nela (12 times).');
    expect(face(3)).toContain('Called by Nela (12 times), Bo, Mo.');
    expect(face(7)).toContain('Called by Nela (12 times), Bo, Mo and 4 more.');
    expect(face(7).length).toBeLessThan(face(3).length + 12);
  });

  it('nothing of joining to whoever has called, named or not', () => {
    const held = { ...here, state: state({ stage: 'held', hold: hold(1) }) };
    expect(holdFace(held, '').detail).toContain('One tap adds your name.');
    expect(holdFace({ ...held, tap: 'written' }, '').detail).not.toContain('One tap adds your name.');
    // Where there is no log, nobody waits for it.
    const unkept = holdFace({ ...held, tap: 'unkept' }, '').detail;
    expect([unkept.includes('this may be forgotten'), unkept.includes('yet')]).toEqual([true, false]);
    expect(unkept).not.toContain('One tap adds your name.');
  });
});

describe('from a view', () => {
  const fighters = ['MARET', 'OSK', 'PELL', 'TAR', 'UNA'];
  const moves = [0, 960, 960, 1_920, 4_800].map((at_ticks, n): MoveView => ({
    phrase: 0,
    number: n + 1,
    at_ticks,
    beat: '1',
    who: 'MARET',
    action: 'bind',
    to: 'OSK',
    reply: null,
    sounds: [],
    text: null,
    picture: null,
  }));
  const run = {
    run: 1,
    generation: 1,
    revision: '',
    fight: '',
    weapons: null,
    pictures: null,
    floor: null,
    drive: 'clock',
    beats_per_bar: 4,
    count_in: 4,
    start_us: 0,
    length_ticks: 5_760,
    phrases: [],
    begins: null,
    tempo: [],
    moves,
    fighters,
    feet: [],
  } as const;

  it('follows who is missing, and only of the places that are called now', () => {
    const parts = [{ part: 'OSK', name: 'Teo', lack: 'lost' as const }];
    expect(missing(here)).toBe(null);
    const view = reduce(here, told({ kind: 'subject', tells: { subject: 'missing', generation: 1, parts } }));
    expect(missing(view)).toEqual(parts);
    expect(missing(reduce(view, told({ kind: 'pulse', now_us: 0, generation: 2, stood_us: 0 })))).toBe(null);
  });

  it('follow the next three moves', () => {
    const view: View = {
      ...here,
      run: { ...run, phrases: [], tempo: [], moves, fighters, feet: [], near: [], bystanders: [] },
    };
    const numbers = (of: View) => comingMoves(of, 3).map(({ number }) => number);
    expect(numbers(view)).toEqual([1, 2, 3]);
    const [, , , fourth] = moves;
    const next = fourth === undefined ? [] : [{ part: 'watch' as const, move: fourth }];
    const at = (more: Partial<ReturnType<typeof cue>>): View => ({
      ...view,
      shown: { cue: { ...cue(2, null), ...more }, late_us: null, at_us: 0, again: false },
    });
    expect(numbers(at({ next }))).toEqual([4, 5]);
    expect(numbers(at({ next: [] }))).toEqual([]);
  });
});
