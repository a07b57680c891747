// What is played alone: over fights and wishes made by chance, everything has its place, and nothing another.
import { describe, expect, it } from 'vitest';
import { habitsOf, USUAL } from '../part/habits';
import { around, phraseAt, roundOf, saidIn, shownAt, whole, type Wish } from '../part/plan';
import { memoryStore } from '../core/platform';
import type { Lesson, MoveView } from '../core/wire';

/** The same numbers for the same seed (Park and Miller 1988). */
function chance(seed: number): (below: number) => number {
  let state = seed;
  return (below) => {
    state = (state * 48_271) % 2_147_483_647;
    return state % below;
  };
}

const NAMES = ['Ada', 'Bo', 'Cy'];

/** A fight of one tempo with moves, sounds and phrases by chance. */
function lessonBy(random: (below: number) => number): Lesson {
  const bpm = 40 + random(160);
  const phrases = Array.from({ length: 1 + random(3) }, (_, phrase) => ({ phrase, beats: 4 + random(20) }));
  let at = 0;
  const moves: MoveView[] = [];
  const laid = phrases.map(({ phrase, beats }) => {
    const at_ticks = at;
    let ticks = random(3) * 480;
    for (let number = 1; ticks < beats * 960; number += 1) {
      const who = NAMES[random(3)] ?? '';
      const to = NAMES.filter((name) => name !== who)[random(2)] ?? null;
      const reply = random(4) === 0 ? null : 'parry 4';
      const base = { phrase, number, who, to, reply, text: null, sounds: ['steel'], picture: null };
      moves.push({ ...base, at_ticks: at + ticks, beat: `${ticks / 960 + 1}`, action: 'thrust belly' });
      ticks += 240 * (1 + random(12));
    }
    at += beats * 960;
    return { phrase, name: `P${phrase}`, at_ticks, length_ticks: beats * 960, at_us: 0, percent: 100 };
  });
  const sheet = {
    ...{ run: 0, generation: 0, beats_per_bar: 2 + random(4), count_in: 0, start_us: null, length_ticks: at },
    ...{ revision: '', fight: 'F', weapons: null, pictures: null, floor: null, begins: null, drive: 'clock' as const },
    ...{ phrases: laid, moves, fighters: NAMES, feet: [], near: [], bystanders: [] },
    tempo: [{ at_ticks: 0, length_ticks: at, at_us: 0, from_bpm: bpm, to_bpm: bpm }],
  };
  const sounds = moves.map((move, by_move) => ({
    ...{ at_ticks: move.at_ticks, later_us: random(3) * 10_000, gain_db: 0, name: 'steel', by_move },
  }));
  return { sheet, sounds };
}

function wishBy(random: (below: number) => number): Wish {
  const flip = (): boolean => random(2) === 0;
  const switches = { others: flip(), click: flip(), effects: flip(), calls: flip() };
  return { percent: 10 + random(141), countIn: random(9), ...switches };
}

/** One evening alone after the other. */
function* evenings(): Generator<{ lesson: Lesson; wish: Wish; part: string; random(below: number): number }> {
  for (let seed = 1; seed <= 400; seed += 1) {
    const random = chance(seed * 7_919);
    yield { lesson: lessonBy(random), wish: wishBy(random), part: NAMES[random(3)] ?? '', random };
  }
}

describe('a round', () => {
  it('has every own act once, at its time, and no other', () => {
    for (const { lesson, wish, part } of evenings()) {
      const round = roundOf(lesson, part, wish, [whole(lesson)]);
      const own = lesson.sheet.moves.filter(({ who, to }) => who === part || to === part);
      expect(round.acts.map(({ move }) => move)).toEqual(own);
      // One tempo: a beat lasts 60/bpm seconds (arithmetic), and slower by the percent.
      const beatUs = (60e6 / (lesson.sheet.tempo[0]?.from_bpm ?? 60)) * (100 / wish.percent);
      for (const { atUs, move } of round.acts) {
        expect(atUs / 1e6).toBeCloseTo(((move.at_ticks / 960 + wish.countIn) * beatUs) / 1e6, 6);
      }
      expect(round.lengthUs / 1e6).toBeCloseTo(((lesson.sheet.length_ticks / 960 + wish.countIn) * beatUs) / 1e6, 6);
      expect(round.beats.length).toBe(lesson.sheet.length_ticks / 960 + wish.countIn);
    }
  });

  it('clicks on every beat or on none, and sounds what is one’s own, with the others’ where they are wanted', () => {
    for (const { lesson, wish, part } of evenings()) {
      const { heard, beats, acts } = roundOf(lesson, part, wish, [whole(lesson)]);
      const of = (kind: string) => heard.filter((each) => each.kind === kind);
      expect(of('click').map(({ atUs }) => atUs)).toEqual(wish.click ? beats.map(({ atUs }) => atUs) : []);
      const sounds = !wish.effects ? 0 : wish.others ? lesson.sounds.length : acts.length;
      expect(of('sound').length).toBe(sounds);
      expect(heard.every((each, n) => n === 0 || each.atUs >= (heard[n - 1]?.atUs ?? 0))).toBe(true);
    }
  });

  it('calls each act after the one before, early enough, or says that it does not', () => {
    for (const { lesson, wish, part } of evenings()) {
      const round = roundOf(lesson, part, { ...wish, calls: true }, [whole(lesson)]);
      const calls = round.heard.flatMap((each) => (each.kind === 'call' ? [each] : []));
      expect(calls.length + round.uncalled).toBe(round.acts.length);
      calls.forEach((call, n) => {
        const act = round.acts.find(({ atUs }) => atUs > call.byUs);
        const before = round.acts.findLast(({ atUs }) => atUs < (act?.atUs ?? 0));
        expect(call.atUs + saidIn(call.text)).toBeLessThanOrEqual(call.byUs);
        expect(call.atUs).toBeGreaterThanOrEqual(Math.max(0, before?.atUs ?? 0));
        const last = calls[n - 1];
        if (last !== undefined) expect(call.atUs).toBeGreaterThanOrEqual(last.atUs + saidIn(last.text));
      });
    }
  });

  it('begins anywhere, and a stretch is what the whole has there', () => {
    for (const { lesson, wish, part, random } of evenings()) {
      const move = lesson.sheet.moves[random(Math.max(1, lesson.sheet.moves.length))];
      if (move === undefined) continue;
      const from = move.at_ticks;
      const [all, rest] = [[whole(lesson)], [{ from, to: lesson.sheet.length_ticks }]].map((stretches) =>
        roundOf(lesson, part, { ...wish, countIn: 0 }, stretches).acts.filter(({ move: at }) => at.at_ticks >= from),
      );
      const shift = (all?.[0]?.atUs ?? 0) - (rest?.[0]?.atUs ?? 0);
      expect(rest?.length).toBe(all?.length);
      rest?.forEach(({ atUs }, n) => expect((atUs + shift) / 1e6).toBeCloseTo((all?.[n]?.atUs ?? 0) / 1e6, 6));
    }
  });

  it('has what was not known in stretches that do not overlap and leave no phrase', () => {
    for (const { lesson, random } of evenings()) {
      const hard = lesson.sheet.moves.filter(() => random(3) === 0);
      const stretches = around(lesson, hard);
      for (const { at_ticks } of hard) {
        const inside = stretches.filter(({ from, to }) => at_ticks >= from && at_ticks < to);
        expect(inside.length).toBe(1);
      }
      stretches.forEach(({ from, to }, n) => {
        expect(from).toBeLessThan(to);
        const next = stretches[n + 1];
        if (next !== undefined) expect(next.from).toBeGreaterThan(to);
        expect(phraseAt(lesson, from).from).toBeLessThanOrEqual(from);
      });
    }
  });

  it('shows what is done now for half a second at least, and what comes next with its beats', () => {
    for (const { lesson, wish, part, random } of evenings()) {
      const round = roundOf(lesson, part, wish, [whole(lesson)]);
      for (let n = 0; n < 20; n += 1) {
        const us = random(Math.max(1, Math.round(round.lengthUs)));
        const shown = shownAt(round, us);
        expect(shown.next?.atUs ?? Infinity).toBeGreaterThan(us);
        const last = round.acts.findLast(({ atUs }) => atUs <= us);
        if (last !== undefined && us - last.atUs < 500_000) expect(shown.now).toBe(last);
        if (shown.next !== null) {
          const beats = round.beats.filter(({ atUs }) => atUs > us && atUs <= (shown.next?.atUs ?? 0) + 1);
          expect(shown.nextIn).toBe(beats.length);
        }
      }
    }
  });
});

describe('how somebody practises', () => {
  it.each(['', 'x', '[]', 'null', '{"percent":"fast","round":9,"barsIn":7}', '{"percent":1e9}', '{"percent":null}'])(
    'is as usual, or within its limits, where %s is remembered',
    (kept) => {
      const store = memoryStore();
      store.set('holdfast.practice', kept);
      const read = habitsOf(store);
      expect(read.percent === USUAL.percent || read.percent === 150).toBe(true);
      expect({ ...read, percent: 50 }).toEqual(USUAL);
    },
  );
});
