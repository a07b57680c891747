// What happens when somebody plays their part for themselves: every click, sound, call and act of a stretch of the fight,
// with its time from the moment at which it begins. Pure; `player.ts` makes it heard.
import { tempoAt, usAt } from '../core/tempo';
import { partIn } from '../core/reading';
import { TICKS_PER_BEAT, type Lesson, type MoveView, type Part } from '../core/wire';

/** What is played, and how. */
export interface Wish {
  /** Percent of performance tempo. */
  percent: number;
  /** Beats counted before each stretch. */
  countIn: number;
  /** With what the others do, or one's own half alone. */
  others: boolean;
  click: boolean;
  effects: boolean;
  calls: boolean;
}

/** The slowest and the fastest, percent: those of a run. */
export const SLOWEST = 10;
export const FASTEST = 150;

/** A stretch of the fight, ticks from its first beat; its end does not belong to it. */
export interface Stretch {
  from: number;
  to: number;
}

/** One of one's own acts. */
export interface Act {
  /** When, microseconds from the beginning of what is played. */
  atUs: number;
  /** The move, and its place among those of the sheet. */
  move: MoveView;
  index: number;
  part: Part;
}

/** Something that is heard. */
export type Heard =
  | { kind: 'click'; atUs: number; accent: boolean }
  | { kind: 'sound'; atUs: number; name: string; gainDb: number }
  /** Said so that it ends before `byUs`. */
  | { kind: 'call'; atUs: number; byUs: number; text: string };

/** A beat as it is counted on the screen. */
export interface Beat {
  atUs: number;
  count: number;
  /** Beats left, this one included, while it is counted in. */
  countIn: number | null;
}

/** Everything of one round. */
export interface Round {
  acts: Act[];
  heard: Heard[];
  beats: Beat[];
  /** When it is over, microseconds. */
  lengthUs: number;
  /** Own acts that are not called, because there is no time before them. */
  uncalled: number;
}

/** How long a voice takes for a text, microseconds: an estimate that is rather too long. */
export const saidIn = (text: string): number => 350_000 + 62_000 * text.length;
/** A call ends at least so long before what it calls. */
const CLEAR_US = 100_000;

/** The whole fight as one stretch. */
export const whole = ({ sheet }: Lesson): Stretch => ({ from: 0, to: sheet.length_ticks });

/** A phrase as a stretch. */
export function phraseAt({ sheet }: Lesson, ticks: number): Stretch {
  const found = sheet.phrases.findLast((phrase) => phrase.at_ticks <= ticks) ?? sheet.phrases[0];
  return found === undefined ? { from: 0, to: 0 } : { from: found.at_ticks, to: found.at_ticks + found.length_ticks };
}

/** A bar before each of these moves and one beat after, what overlaps made one: to practise what was not known. */
export function around(lesson: Lesson, moves: readonly MoveView[]): Stretch[] {
  const { sheet } = lesson;
  const bar = sheet.beats_per_bar * TICKS_PER_BEAT;
  const stretches: Stretch[] = [];
  for (const { at_ticks } of [...moves].sort((a, b) => a.at_ticks - b.at_ticks)) {
    const phrase = phraseAt(lesson, at_ticks);
    const from = Math.max(phrase.from, Math.floor((at_ticks - bar) / TICKS_PER_BEAT) * TICKS_PER_BEAT);
    const to = Math.min(phrase.to, at_ticks + 2 * TICKS_PER_BEAT);
    const last = stretches.at(-1);
    if (last !== undefined && from <= last.to) last.to = Math.max(last.to, to);
    else stretches.push({ from, to });
  }
  return stretches;
}

/** One round over these stretches, one after the other, each counted in. */
export function roundOf(lesson: Lesson, part: string | null, wish: Wish, stretches: readonly Stretch[]): Round {
  const round: Round = { acts: [], heard: [], beats: [], lengthUs: 0, uncalled: 0 };
  for (const stretch of stretches) lay(round, lesson, part, wish, stretch);
  if (wish.calls) call(round);
  round.heard.sort((a, b) => a.atUs - b.atUs);
  return round;
}

function lay(round: Round, lesson: Lesson, part: string | null, wish: Wish, { from, to }: Stretch): void {
  const { sheet } = lesson;
  const slower = 100 / Math.min(FASTEST, Math.max(SLOWEST, wish.percent));
  const beatUs = (60e6 / (tempoAt(sheet, from / TICKS_PER_BEAT) ?? 60)) * slower;
  const first = round.lengthUs + wish.countIn * beatUs;
  const at = (ticks: number): number => first + (usAt(sheet, ticks) - usAt(sheet, from)) * slower;
  const inside = (ticks: number): boolean => ticks >= from && ticks < to;
  for (let left = wish.countIn; left > 0; left -= 1) {
    const count = ((wish.countIn - left) % sheet.beats_per_bar) + 1;
    beat(round, wish, { atUs: first - left * beatUs, count, countIn: left });
  }
  for (const phrase of sheet.phrases) {
    for (let ticks = 0, n = 0; ticks < phrase.length_ticks; ticks += TICKS_PER_BEAT, n += 1) {
      const here = phrase.at_ticks + ticks;
      if (inside(here)) beat(round, wish, { atUs: at(here), count: (n % sheet.beats_per_bar) + 1, countIn: null });
    }
  }
  const mine = (move: MoveView): boolean => part === null || partIn(move, part) !== 'watch';
  sheet.moves.forEach((move, index) => {
    if (inside(move.at_ticks) && mine(move)) {
      round.acts.push({ atUs: at(move.at_ticks), move, index, part: partIn(move, part) });
    }
  });
  for (const sound of wish.effects ? lesson.sounds : []) {
    const move = sound.by_move === null ? undefined : sheet.moves[sound.by_move];
    const heard = move === undefined || mine(move) || wish.others;
    if (!inside(sound.at_ticks) || !heard) continue;
    round.heard.push({
      kind: 'sound',
      atUs: at(sound.at_ticks) + sound.later_us,
      name: sound.name,
      gainDb: sound.gain_db,
    });
  }
  round.lengthUs = at(to);
}

function beat(round: Round, { click }: Wish, each: Beat): void {
  round.beats.push(each);
  if (click) round.heard.push({ kind: 'click', atUs: each.atUs, accent: each.count === 1 });
}

// Each own act is called after the one before it, a beat or so ahead; where there is no time for that it is not.
function call(round: Round): void {
  let free = 0;
  for (const act of round.acts) {
    const text = act.part === 'answer' ? (act.move.reply ?? act.move.action) : act.move.action;
    const long = saidIn(text);
    const atUs = Math.max(free, act.atUs - long - 600_000);
    const byUs = act.atUs - CLEAR_US;
    if (atUs + long <= byUs) round.heard.push({ kind: 'call', atUs, byUs, text });
    else round.uncalled += 1;
    free = act.atUs;
  }
}

/** What stands on the screen at a moment of a round. */
export interface Shown {
  beat: Beat | null;
  /** The own act that is done now: it stays until the next beat at the earliest, and until half a second is over. */
  now: Act | null;
  /** The next one, and in how many beats. */
  next: Act | null;
  nextIn: number | null;
}

/** The least time for which an act stands as done now. */
const STAYS_US = 500_000;

/** What stands on the screen at a moment of a round. */
export function shownAt(round: Round, us: number): Shown {
  const beat = round.beats.findLast(({ atUs }) => atUs <= us) ?? null;
  const done = round.acts.findLastIndex(({ atUs }) => atUs <= us);
  const next = round.acts[done + 1] ?? null;
  const last = round.acts[done];
  const until = last === undefined ? 0 : staysUntil(round, last);
  const beats = next === null ? null : round.beats.filter(({ atUs }) => atUs > us && atUs <= next.atUs + 1).length;
  return { beat, now: last !== undefined && us < until ? last : null, next, nextIn: beats };
}

function staysUntil({ beats }: Round, act: Act): number {
  const after = beats.find(({ atUs }) => atUs > act.atUs + 1);
  return Math.max(act.atUs + STAYS_US, after?.atUs ?? 0);
}
