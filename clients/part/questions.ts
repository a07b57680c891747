// What a performer is asked about their part: each of their own moves and replies, in the order of the fight, and which of
// them were not known the last time. Pure; the phone remembers it under the fight's name.
import type { MoveView, RunSheet } from '../core/wire';

/** One thing to know: what I answer to an attack, or what I do myself. */
export interface Question {
  /** Its name: of another text it is another question. */
  id: string;
  phrase: string;
  move: MoveView;
  asks: 'act' | 'answer';
}

/** Everything that somebody has to know of a fight; a move that is done several times over is asked once a phrase. */
export function questionsOf(sheet: RunSheet, part: string): Question[] {
  const names = new Map(sheet.phrases.map(({ phrase, name }) => [phrase, name]));
  const seen = new Set<string>();
  return sheet.moves.flatMap((move) => {
    const phrase = names.get(move.phrase) ?? '';
    const asks = move.who === part ? ['act' as const] : [];
    const answers = move.to === part && move.reply !== null ? ['answer' as const] : [];
    return [...asks, ...answers]
      .map((each): Question => ({ id: idOf(phrase, move, each), phrase, move, asks: each }))
      .filter(({ id }) => !seen.has(id) && seen.add(id));
  });
}

/** The name of what is asked of a move. */
export function questionOf(sheet: RunSheet, move: MoveView, asks: Question['asks']): string {
  return idOf(sheet.phrases.find(({ phrase }) => phrase === move.phrase)?.name ?? '', move, asks);
}

/** Where a device remembers what was not known of a part. */
export const rememberedAt = (sheet: RunSheet, part: string): string => `holdfast.not-known.${sheet.fight}.${part}`;

function idOf(phrase: string, move: MoveView, asks: Question['asks']): string {
  return JSON.stringify([phrase, asks, move.who, move.action, move.to, move.reply]);
}

/** A round of questions: which are still to come, and how the others went. */
export interface Round {
  left: Question[];
  known: string[];
  missed: string[];
}

/** A round of these questions, from the beginning. */
export const begin = (questions: Question[]): Round => ({ left: questions, known: [], missed: [] });

/** The same after the question that is asked now was known, or not. */
export function answered({ left, known, missed }: Round, knew: boolean): Round {
  const [now, ...rest] = left;
  if (now === undefined) return { left, known, missed };
  return knew ? { left: rest, known: [...known, now.id], missed } : { left: rest, known, missed: [...missed, now.id] };
}

/** What is remembered as not known, after this round: what was missed comes to it, what was known goes. */
export function notKnown(before: readonly string[], round: Round): string[] {
  const known = new Set(round.known);
  return [...new Set([...before.filter((id) => !known.has(id)), ...round.missed])];
}

/** What was remembered; nothing of what cannot be read. */
export function remembered(kept: string | null): string[] {
  try {
    const read: unknown = JSON.parse(kept ?? '[]');
    return Array.isArray(read) ? read.filter((id): id is string => typeof id === 'string') : [];
  } catch {
    return [];
  }
}
