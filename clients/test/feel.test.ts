// What a hand and an ear are told: patterns that can be told apart, that end before one's next act, each act with exactly one
// of its kind; calls that end in time; and nothing more once a hold is called.
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { BODY_US, Pace, callsOf, fitting, spoken } from '../core/calls';
import { PATTERNS, REST_MS, SHORTEST_MS, feelOf, fitted, isMine, lengthOf, type Feel } from '../core/feel';
import { memoryStore } from '../core/platform';
import { DeviceSenses } from '../core/senses';
import { Session } from '../core/session';
import { USUAL } from '../core/settings';
import { usAt } from '../core/tempo';
import type { Cue, CueMove, MoveView, RunSheet } from '../core/wire';
import { chance } from './support/chance';
import { cue, FakeNetwork, FakeTime, OFFSET_US, state, welcome } from './support/fake';
import { entry } from './support/room';

const OWN = ['attack', 'reply', 'alone'] as const;

describe('the patterns', () => {
  const strokes = (feel: Feel): number => (PATTERNS[feel].length + 1) / 2;

  it('of one’s own acts differ in the number of strokes, and all in the length of a stroke, twice or more', () => {
    expect(new Set(OWN.map(strokes)).size).toBe(OWN.length);
    // Weber fractions for durations of this length are a tenth to a third in most studies (from memory, no source).
    const lengths = (['beat', 'others', 'reply', 'attack', 'hold'] as const).map((feel) => PATTERNS[feel][0] ?? 0);
    for (const [n, longer] of lengths.slice(1).entries()) expect(longer).toBeGreaterThanOrEqual(2 * (lengths[n] ?? 0));
  });

  it('of a hold has strokes that are twice as long as any, and takes longer than two of any', () => {
    for (const feel of Object.keys(PATTERNS) as Feel[]) {
      if (feel === 'hold') continue;
      for (const stroke of PATTERNS.hold.filter((_, n) => n % 2 === 0)) {
        expect(stroke).toBeGreaterThanOrEqual(2 * Math.max(...PATTERNS[feel]));
      }
      expect(lengthOf(PATTERNS.hold)).toBeGreaterThan(2 * lengthOf(PATTERNS[feel]));
    }
  });

  it('have strokes that come no faster than six a second', () => {
    // Lechelt 1974: at six a second the order of strokes has no effect on how well they are counted; at nine it has.
    for (const pattern of Object.values(PATTERNS)) {
      for (let n = 2; n < pattern.length; n += 2) {
        expect((pattern[n - 2] ?? 0) + (pattern[n - 1] ?? 0)).toBeGreaterThanOrEqual(1_000 / 6);
      }
    }
  });

  it('are pressed into any time without losing a stroke, as long as strokes can be felt', () => {
    for (const feel of OWN) {
      const pattern = PATTERNS[feel];
      for (let next = -20; next < 800; next += 1) {
        const pressed = fitted(pattern, next);
        expect(lengthOf(pressed)).toBeLessThanOrEqual(Math.max(0, next - Math.min(REST_MS, next / 2)));
        if (next >= 350) expect(pressed.length).toBe(pattern.length);
        if (next >= 2) expect(pressed.length % 2).toBe(1);
        if (next >= 2 * SHORTEST_MS) expect(Math.min(...pressed)).toBeGreaterThanOrEqual(SHORTEST_MS);
      }
    }
  });
});

function move(more: Partial<MoveView>): MoveView {
  const act = { who: 'MARET', action: 'thrust belly', to: 'OSK', reply: 'parry 4' };
  const rest = { phrase: 0, number: 1, at_ticks: 0, beat: '1', sounds: [], text: null, picture: null };
  return { ...act, ...rest, ...more };
}

describe('a call', () => {
  it('says the act first, then with whom, and names as they are spoken', () => {
    const answer: CueMove = { part: 'answer', move: move({ who: 'OLD TOM', action: 'cut head', reply: 'parry 5' }) };
    expect(callsOf(answer, false)).toEqual(['parry 5, Old Tom', 'parry 5']);
    expect(callsOf(answer, true)[0]).toBe('parry 5, Old Tom, cut head');
    expect(callsOf({ part: 'act', move: move({}) }, true)).toEqual(['thrust belly, Osk', 'thrust belly']);
    expect(callsOf({ part: 'act', move: move({ to: null, reply: null, action: 'retire' }) }, true)).toEqual(['retire']);
    expect(spoken('Maret')).toBe('Maret');
    expect(spoken('ÉLODIE')).toBe('Élodie');
  });

  it('is as full as there is time for, and none where there is time for none', () => {
    const pace = new Pace();
    const calls = ['parry 5, Osk, cut head', 'parry 5, Osk', 'parry 5'];
    const takes = calls.map((call) => pace.takesUs(call, 'usual'));
    calls.forEach((call, n) => {
      expect(fitting(calls, (takes[n] ?? 0) + BODY_US, 'usual', pace)).toBe(call);
    });
    expect(fitting(calls, (takes[2] ?? 0) + BODY_US - 1, 'usual', pace)).toBeNull();
  });

  it('learns at once from a slow voice, and trusts it again by and by', () => {
    const pace = new Pace();
    const before = pace.takesUs('parry 5', 'usual');
    pace.said('parry 5', 'usual', 2 * before);
    expect(pace.takesUs('parry 5', 'usual')).toBeCloseTo(2 * before);
    for (let n = 0; n < 60; n += 1) pace.leftOut();
    expect(pace.takesUs('parry 5', 'usual')).toBeLessThan(1.05 * before);
  });
});

// A device that writes down what it is made to do.
interface Felt {
  atUs: number;
  pattern: number[];
}
interface Said {
  atUs: number;
  text: string;
  untilUs: number;
}
let time: FakeTime;
let felt: Felt[];
let said: Said[];
let characterMs: number;

class Utterance extends EventTarget {
  lang = '';
  rate = 1;
  constructor(readonly text: string) {
    super();
  }
}

beforeEach(() => {
  time = new FakeTime();
  felt = [];
  said = [];
  characterMs = 60;
  let speaking: Said | null = null;
  const speechSynthesis = {
    getVoices: () => [],
    cancel: () => {
      if (speaking !== null) speaking.untilUs = Math.min(speaking.untilUs, time.nowUs());
      speaking = null;
    },
    speak: (call: Utterance) => {
      const takes = 100 + (call.text.length * characterMs) / call.rate;
      const says: Said = { atUs: time.nowUs(), text: call.text, untilUs: time.nowUs() + takes * 1_000 };
      speaking = says;
      said.push(says);
      time.after(takes, () => {
        if (speaking !== says) return;
        speaking = null;
        call.dispatchEvent(new Event('end'));
      });
    },
  };
  const vibrate = (pattern: number | number[]): boolean => {
    if (Array.isArray(pattern)) felt.push({ atUs: time.nowUs(), pattern });
    else felt.push({ atUs: time.nowUs(), pattern: [] });
    return true;
  };
  const window = { speechSynthesis, SpeechSynthesisUtterance: Utterance };
  for (const [name, value] of Object.entries({ window, navigator: { vibrate }, SpeechSynthesisUtterance: Utterance })) {
    Object.defineProperty(globalThis, name, { value, configurable: true, writable: true });
  }
});
afterEach(() => {
  for (const name of ['window', 'SpeechSynthesisUtterance']) Reflect.deleteProperty(globalThis, name);
});

interface Act {
  ticks: number;
  moves: CueMove[];
}

const KINDS: (() => CueMove)[] = [
  () => ({ part: 'act', move: move({ who: 'MARET', to: 'OSK' }) }),
  () => ({ part: 'answer', move: move({ who: 'OSK', action: 'cut head', to: 'MARET', reply: 'parry 5' }) }),
  () => ({ part: 'act', move: move({ who: 'MARET', action: 'retire', to: null, reply: null }) }),
  () => ({ part: 'watch', move: move({ who: 'OSK', action: 'draw', to: null, reply: null }) }),
];

const START_US = OFFSET_US + 5_000_000;
const WHOLE = { at_ticks: 0, length_ticks: 24 * 960, at_us: 0 };
const SHEET: RunSheet = {
  run: 1,
  generation: 1,
  revision: '0123456789ab',
  fight: 'The Salt Stair',
  weapons: null,
  pictures: null,
  floor: null,
  begins: null,
  drive: 'clock',
  beats_per_bar: 4,
  count_in: 4,
  start_us: START_US,
  length_ticks: WHOLE.length_ticks,
  phrases: [],
  tempo: [],
  moves: [],
  fighters: ['MARET', 'OSK'],
  near: [],
  bystanders: [],
  feet: [],
};

// A fight made by chance at any tempo, which may change all the way: beats of it, and what is done on and between them.
function fight(random: () => number): { run: RunSheet; cues: Cue[] } {
  const bpm = (): number => 30 + Math.floor(random() * 330);
  const run: RunSheet = { ...SHEET, tempo: [{ ...WHOLE, from_bpm: bpm(), to_bpm: bpm() }] };
  const acts: Act[] = [];
  for (let ticks = 0; ticks < 24 * 960; ticks += [240, 480, 960, 1_920, 3_840][Math.floor(random() * 5)] ?? 960) {
    const kind = KINDS[Math.floor(random() * KINDS.length)];
    if (kind === undefined) continue;
    const made = kind();
    acts.push({ ticks, moves: [{ ...made, move: { ...made.move, at_ticks: ticks } }] });
  }
  const places = new Map<number, CueMove[]>(acts.map(({ ticks, moves }) => [ticks, moves]));
  for (let ticks = 0; ticks < 24 * 960; ticks += 960) if (!places.has(ticks)) places.set(ticks, []);
  const cues = [...places]
    .sort(([one], [other]) => one - other)
    .map(([ticks, moves], n): Cue => {
      const next = acts.find((act) => act.ticks > ticks && act.moves.some(({ part }) => part !== 'watch'));
      return {
        ...cue(n, Math.round(START_US + usAt(run, ticks))),
        moves,
        click: ticks % 960 === 0 ? 'beat' : 'none',
        next: next?.moves ?? [],
        next_in_beats: next === undefined ? null : (next.ticks - ticks) / 960,
      };
    });
  return { run, cues };
}

// Plays a fight at a real session whose senses are the device's, and says when each own act was due, local microseconds.
function play(seed: number, holdAfterMs: number | null): { cues: Cue[]; senses: DeviceSenses; heldUs: number | null } {
  const random = chance(seed);
  const { run, cues } = fight(random);
  const network = new FakeNetwork(time);
  network.welcome = { ...welcome(), state: state(), run };
  const senses = new DeviceSenses(time);
  const session = new Session({
    platform: time,
    dial: network.dial,
    store: memoryStore(),
    senses,
    visible: () => true,
    entry,
    page: 'a-page',
    barred: () => undefined,
  });
  senses.follow({ ...USUAL, voice: true, partner: random() < 0.5, shake: random() < 0.5 ? 'beats' : 'moves' });
  characterMs = 30 + random() * 70;
  session.start();
  network.pass(1_000, 1);
  const last = cues.at(-1)?.due_us ?? 0;
  let heldUs: number | null = null;
  let sent = 0;
  while (time.nowUs() + OFFSET_US < last + 3_000_000) {
    for (; sent < cues.length; sent += 1) {
      const each = cues[sent];
      if (each === undefined || (each.due_us ?? 0) > time.nowUs() + OFFSET_US + 1_500_000) break;
      if (heldUs === null || random() < 0.5) network.say({ kind: 'cue', ...each });
    }
    if (heldUs === null && holdAfterMs !== null && time.nowUs() > holdAfterMs * 1_000) {
      heldUs = time.nowUs();
      network.say({ kind: 'stop', generation: 1, at_us: 0 });
    }
    network.pass(20, heldUs === null ? 1 : 2);
  }
  return { cues, senses, heldUs };
}

const dueUs = (each: Cue): number => (each.due_us ?? 0) - OFFSET_US;
const SEEDS = Array.from({ length: 60 }, (_, seed) => seed + 1);

it.each(SEEDS)(
  'any fight at any tempo: one pattern for each act, none into the next, calls in time (seed %i)',
  (seed) => {
    const { cues, senses } = play(seed, null);
    const own = cues.filter((each) => each.moves.some(({ part }) => part !== 'watch'));
    const shakes = felt.filter(({ pattern }) => pattern.length > 0);
    for (const [n, act] of own.entries()) {
      const feel = feelOf(act);
      const here = shakes.filter(({ atUs }) => Math.abs(atUs - dueUs(act)) <= 2_000);
      expect(here.length).toBe(1);
      const { pattern, atUs } = here[0] ?? { pattern: [], atUs: 0 };
      expect(feel !== null && isMine(feel)).toBe(true);
      const after = own[n + 1];
      const roomMs = after === undefined ? Infinity : (dueUs(after) - dueUs(act)) / 1_000;
      if (feel !== null && roomMs > 400) expect(pattern.length).toBe(PATTERNS[feel].length);
      if (feel !== null && roomMs > 560) expect(pattern).toEqual(PATTERNS[feel]);
      // It ends before the next act, with stillness between, and nothing less is begun over it.
      const endUs = atUs + lengthOf(pattern) * 1_000;
      if (after !== undefined)
        expect(endUs).toBeLessThanOrEqual(dueUs(after) - Math.min(REST_MS, roomMs / 2) * 1_000 + 3_000);
      expect(shakes.some((each) => each.atUs > atUs && each.atUs < endUs)).toBe(false);
    }
    // What others do and beats shake too, but never into an own act.
    for (const { atUs, pattern } of shakes) {
      const next = own.find((act) => dueUs(act) > atUs + 2_000);
      if (next !== undefined) expect(atUs + lengthOf(pattern) * 1_000).toBeLessThan(dueUs(next));
    }
    for (const { untilUs, atUs } of said) {
      // The next own act after a call has begun is the one that it calls, but for one that is shown in the same moment.
      const called = own.find((act) => dueUs(act) > atUs + 2_000);
      if (called !== undefined) expect(untilUs).toBeLessThanOrEqual(dueUs(called) - BODY_US + 3_000);
    }
    const cut = said.filter(
      ({ untilUs, atUs, text }) => untilUs - atUs < (100 + (text.length * characterMs) / 1.2) * 1_000 - 1,
    );
    expect(senses.callsLeftOut).toBe(calledOnce(own, cues) - said.length + cut.length);
  },
);

// Each own act but one that is shown first of all is called once or left out once.
function calledOnce(own: Cue[], cues: Cue[]): number {
  return own.filter((act) => act !== cues[0]).length;
}

it.each(SEEDS)('once a hold is called nothing more shakes or speaks, but the hold itself (seed %i)', (seed) => {
  const { heldUs, cues } = play(seed, 5_000 + (seed % 13) * 350);
  if (heldUs === null || heldUs > dueUs(cues.at(-1) ?? cue(0, 0))) return;
  const after = felt.filter(({ atUs, pattern }) => atUs >= heldUs && pattern.length > 0);
  expect(after.map(({ pattern }) => pattern)).toEqual([[...PATTERNS.hold]]);
  expect(felt.at(-1)?.pattern).toEqual([...PATTERNS.hold]);
  expect(said.filter(({ atUs, untilUs }) => atUs > heldUs || untilUs > heldUs)).toEqual([]);
});
