// The words that fit where somebody writes: who, does what, where to, how it is answered, what is heard. Pure: a text and
// a place in it in, words out. It guesses from the line alone; what is right is the checks' to say.
import type { ScoreWords } from '../core/wire';

/** Words that fit, and the letters that they would take the place of. */
export interface Offer {
  from: number;
  to: number;
  words: string[];
}

const HEADER = ['fight', 'beats', 'tempo', 'fighters', 'bystanders', 'phrase', 'pattern'];
const IN_PHRASE = ['place', 'tempo', 'repeat', 'end', 'rest', 'use', 'phrase', 'pattern'];
const IN_PATTERN = ['repeat', 'end', 'stage', 'travel', 'turn', 'phrase', 'pattern'];
const HOW_USED = ['with', 'times', 'mirrored', 'swapped', 'other-height', 'stage', 'about', 'turned', 'travel', 'turn'];
const SIDES = ['left', 'right'];
const STAGE_SIDES = ['upstage', 'downstage', 'stage-left', 'stage-right'];
const HANDS = ['right', 'left', 'none'];

/** What fits at `caret`. `asked`: the person wants to see everything that fits, also before the first letter. */
export function offerAt(text: string, caret: number, known: ScoreWords, asked: boolean): Offer | null {
  const start = text.lastIndexOf('\n', caret - 1) + 1;
  const before = text.slice(start, caret);
  const after = text[caret];
  if (after !== undefined && !/\s/.test(after)) return null;
  if (before.includes('#') || quoted(before)) return null;
  const typed = /[^\s+/!"]*$/.exec(before)?.[0] ?? '';
  if (typed === '' && !asked) return null;
  const said = before.slice(0, before.length - typed.length);
  const above = text.slice(0, start);
  const part = partOf(above);
  const names = part === 'pattern' ? roles(above) : people(text);
  const small = typed.toLowerCase();
  const begun = (words: string[]): string[] =>
    [...new Set(words)].filter((word) => word.toLowerCase().startsWith(small));
  let words = begun(
    /^\s*use\s/.test(said) ? afterUse(said, patterns(text), names) : wordsAfter(said, part, names, known),
  );
  // Every word can be reached by its first letters, also one that does not seem to answer.
  if (words.length === 0 && typed !== '' && /\/\s+\S+\s+$/.test(said))
    words = begun(known.replies.map(({ word }) => word));
  if (words.length === 0 || (words.length === 1 && words[0] === typed)) return null;
  return { from: caret - typed.length, to: caret, words };
}

/** Everybody in the fight, as a line would name them. */
export function people(text: string): string[] {
  const found: string[] = [];
  let inList = false;
  for (const line of text.split('\n')) {
    const first = /^\s*("[^"]*"|[^\s#]+)/.exec(line)?.[1];
    if (first === undefined) continue;
    if (first === 'fighters' || first === 'bystanders') inList = true;
    else if (first === 'phrase' || first === 'pattern') break;
    else if (HEADER.includes(first)) inList = false;
    else if (inList) found.push(first);
  }
  return found;
}

/** The names of all patterns, as a use would write them. */
export function patterns(text: string): string[] {
  return [...text.matchAll(/^\s*pattern\s+("[^"]*"|[^\s#]+)/gm)].map(([, name]) => name ?? '');
}

// The roles of the last pattern.
function roles(above: string): string[] {
  const heads = [
    ...above.matchAll(/^\s*pattern\s+(?:"[^"]*"|[^\s#]+)\s+for\s+([^#\n]*?)(?:\s+(?:with|every)\s.*)?$/gm),
  ];
  return (heads.at(-1)?.[1] ?? '').split(',').map((role) => role.trim());
}

function afterUse(said: string, known: string[], names: string[]): string[] {
  const tokens: string[] = said.match(/"[^"]*"|[^\s,]+|,/g) ?? [];
  const last = tokens.at(-1);
  if (tokens.length === 1) return known;
  if (tokens.length === 2) return ['at'];
  if (tokens.length === 4) return ['by'];
  if (last === 'by' || last === ',') return names;
  return tokens.length > 5 ? HOW_USED.filter((word) => !tokens.includes(word)) : [];
}

type Part = 'header' | 'fighters' | 'bystanders' | 'phrase' | 'pattern';

// Which part of the score the next line belongs to.
function partOf(before: string): Part {
  let part: Part = 'header';
  for (const line of before.split('\n')) {
    const first = /^\s*([^\s#]+)/.exec(line)?.[1];
    if (first === 'phrase' || first === 'pattern') part = first;
    else if (part === 'phrase' || part === 'pattern') continue;
    else if (first === 'fighters' || first === 'bystanders') part = first;
    else if (first === 'fight' || first === 'beats' || first === 'tempo') part = 'header';
  }
  return part;
}

const quoted = (before: string): boolean => (before.match(/"/g)?.length ?? 0) % 2 === 1;

function wordsAfter(said: string, part: Part, names: string[], known: ScoreWords): string[] {
  const tokens = said.match(/"[^"]*"|[^\s]+/g) ?? [];
  const [first] = tokens;
  if (first === undefined) return part === 'phrase' ? IN_PHRASE : part === 'pattern' ? IN_PATTERN : HEADER;
  if (part === 'fighters' && !HEADER.includes(first)) {
    return tokens.length === 1 ? known.weapons : tokens.length === 2 ? HANDS : [];
  }
  if (first === 'place') return afterPlace(tokens, names);
  return /^\d/.test(first) && (part === 'phrase' || part === 'pattern') ? afterBeat(said, names, known) : [];
}

function afterPlace(tokens: string[], names: string[]): string[] {
  if (tokens.length === 1) return names;
  if (tokens.at(-1) === 'facing') return names.filter((name) => name !== tokens[1]);
  return tokens.length === 3 ? ['facing'] : [];
}

// beat WHO action target side / WHO reply … ! sound+sound
function afterBeat(said: string, names: string[], known: ScoreWords): string[] {
  const [move = '', sounds] = split(said, '!');
  if (sounds !== undefined) return /(^|\+)\s*$/.test(sounds) ? known.sounds : [];
  const [attack = '', answer] = split(move, '/', true);
  const [, who, action, ...rest] = tokensOf(attack);
  if (answer !== undefined) {
    const others = names.filter((name) => name !== who);
    return afterAnswer(tokensOf(answer), action, rest, others, known);
  }
  if (who === undefined) return names;
  if (action === undefined) return [...known.actions.map(({ word }) => word), 'walk'];
  const targets = known.actions.find(({ word }) => word === action)?.targets ?? [];
  if (rest.at(-1) === 'hidden') return STAGE_SIDES;
  // Where it goes stands first; then the score can say on which side it is hidden.
  const hidden = rest.length > 0 && !rest.includes('hidden') ? ['hidden'] : [];
  return [...afterTarget(rest, targets, known), ...hidden];
}

function afterAnswer(
  [who, reply, ...rest]: string[],
  action: string | undefined,
  target: string[],
  others: string[],
  known: ScoreWords,
): string[] {
  if (who === undefined) return others;
  if (reply === undefined) return answering(action, target[0], known);
  const needs = known.replies.find(({ word }) => word === reply)?.argument;
  if (needs === 'parry') return rest.length === 0 ? known.parries : [];
  const hit = target[0] ?? '';
  const all = known.targets.map(({ word }) => word);
  // What was aimed at comes first: it is what a take usually names.
  return needs === 'target'
    ? afterTarget(
        rest,
        [hit, ...all].filter((word) => all.includes(word)),
        known,
      )
    : [];
}

// The replies to an action; those that fit the place it goes to first.
function answering(action: string | undefined, target: string | undefined, known: ScoreWords): string[] {
  const answers = known.replies.filter(({ actions }) => actions === null || actions.includes(action ?? ''));
  const fits = ({ targets }: (typeof answers)[number]): boolean =>
    targets === null || target === undefined || targets.includes(target);
  return [...answers.filter(fits), ...answers.filter((reply) => !fits(reply))].map(({ word }) => word);
}

function afterTarget(rest: string[], targets: string[], known: ScoreWords): string[] {
  const [target] = rest;
  if (target === undefined) return targets;
  const sided = known.targets.find(({ word }) => word === target)?.sided ?? false;
  return rest.length === 1 && sided ? SIDES : [];
}

const tokensOf = (text: string): string[] => text.match(/"[^"]*"|[^\s]+/g) ?? [];

// In two at a mark. The slash of a beat (4+1/2) is no mark: a mark has room before it.
function split(text: string, mark: string, spaced = false): [string, string?] {
  const at = spaced ? text.search(/\s\/|[A-Za-z]\//) : text.indexOf(mark);
  if (at < 0) return [text];
  const cut = text.indexOf(mark, at);
  return [text.slice(0, cut), text.slice(cut + mark.length)];
}
