// Fights of many, for pages that must show all of them: pairs of fighters who attack each other in turn.
import type { Cue, MoveView, RunSheet, State } from '../../core/wire';
import { cue, run, setUp, state } from './pretend';

const ACTS: [string, string][] = [
  ['cut head', 'parry 5'],
  ['cut flank right', 'parry 3'],
  ['thrust belly', 'parry 4'],
  ['slash feet', 'jump'],
];

/** Who fights: pairs of one from each side. */
export function fighters(pairs: number): string[] {
  return Array.from({ length: pairs }, (_, n) => [`North ${n + 1}`, `South ${n + 1}`]).flat();
}

/** A run of so many beats at so many beats a minute, in which every pair has a move on each beat that `acts` allows. */
export function crowd(
  pairs: number,
  beats: number,
  bpm: number,
  acts: (pair: number, beat: number) => boolean = () => true,
): RunSheet {
  const moves: MoveView[] = [];
  for (let beat = 0; beat < beats; beat += 1) {
    for (let pair = 0; pair < pairs; pair += 1) {
      if (!acts(pair, beat)) continue;
      const [action = '', reply = ''] = ACTS[(pair * 3 + beat) % ACTS.length] ?? [];
      const [who, to] = [`North ${pair + 1}`, `South ${pair + 1}`];
      const turned = (pair + beat) % 2 === 1;
      const at = { phrase: 0, number: moves.length + 1, at_ticks: beat * 960, beat: String(beat + 1) };
      const people = turned ? { who: to, to: who } : { who, to };
      moves.push({ ...at, ...people, action, reply, sounds: [], text: null, picture: (pair * 3 + beat) % ACTS.length });
    }
  }
  const length_ticks = beats * 960;
  return {
    ...run,
    fight: 'The Long Siege',
    fighters: fighters(pairs),
    feet: [],
    start_us: 0,
    length_ticks,
    phrases: [{ phrase: 0, name: 'The first wave', at_ticks: 0, length_ticks, at_us: 0, percent: 60 }],
    tempo: [{ at_ticks: 0, length_ticks, at_us: 0, from_bpm: bpm, to_bpm: bpm }],
    moves,
  };
}

/** The cue of a beat, as the desk reads it. */
export function cueAt(sheet: RunSheet, beat: number): Cue {
  const watch = (move: MoveView) => ({ part: 'watch' as const, move });
  const next = sheet.moves.find(({ at_ticks }) => at_ticks > beat * 960);
  return {
    ...cue(null),
    run: sheet.run,
    generation: sheet.generation,
    cue: beat + sheet.count_in,
    phrase_name: 'The first wave',
    beat: String(beat + 1),
    bar: Math.floor(beat / 4) + 1,
    count: (beat % 4) + 1,
    moves: sheet.moves.filter(({ at_ticks }) => at_ticks === beat * 960).map(watch),
    next: next === undefined ? [] : sheet.moves.filter(({ at_ticks }) => at_ticks === next.at_ticks).map(watch),
    next_in_beats: next === undefined ? null : next.at_ticks / 960 - beat,
    walks: [],
    next_walks: [],
    next_walk_in_beats: null,
  };
}

/** The state in which such a run goes. */
export const goes: State = {
  ...state,
  ...setUp,
  setup: {
    fight: 'The Long Siege',
    weapons: null,
    from: 0,
    from_move: null,
    to: 0,
    percent: 60,
    count_in: 4,
    drive: 'clock',
  },
  stage: 'running',
};
