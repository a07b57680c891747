// Which words fit where; where a line and a column are; what a settled conflict says; which moment is heard.
import { describe, expect, it } from 'vitest';
import type { MergePiece, PreviewMoment, ScoreWords } from '../core/wire';
import { settled } from '../score/conflict';
import { lastBefore, nextThat } from '../score/hear';
import { phraseAt } from '../score/hearing';
import { offerAt, people } from '../score/offer';
import { lineAt, startOf, widthOf } from '../score/place';
import { chance } from './support/chance';

const known: ScoreWords = {
  actions: [
    { word: 'cut', targets: ['head', 'flank'] },
    { word: 'thrust', targets: ['belly'] },
    { word: 'bind', targets: [] },
  ],
  targets: [
    { word: 'belly', sided: false },
    { word: 'flank', sided: true },
    { word: 'head', sided: false },
  ],
  replies: [
    { word: 'parry', argument: 'parry', actions: ['cut', 'thrust'], targets: null },
    { word: 'take', argument: 'target', actions: ['cut', 'thrust'], targets: null },
    { word: 'yield', argument: 'nothing', actions: ['bind'], targets: null },
    { word: 'stand', argument: 'nothing', actions: null, targets: null },
  ],
  parries: ['4', '5', 'quarte'],
  weapons: ['rapier', 'dagger'],
  sounds: ['steel', 'swish'],
  reference: '',
};

const SCORE = `fight "Quay"
fighters
  MARET  rapier right
  "OSK THE TALL"  rapier left
bystanders
  PELL   # watches
phrase "One"
`;

/** The words that are offered at the end of that line, in a phrase or elsewhere. */
const at = (line: string, asked = true, before = SCORE): string[] =>
  offerAt(before + line, (before + line).length, known, asked)?.words ?? [];

describe('words that fit', () => {
  it.each<[string, string[]]>([
    ['  1 ', ['MARET', '"OSK THE TALL"', 'PELL']],
    ['  1 m', ['MARET']],
    ['  1 MARET ', ['cut', 'thrust', 'bind', 'walk']],
    ['  1 MARET c', ['cut']],
    ['  1 MARET cut ', ['head', 'flank']],
    ['  1 MARET cut flank ', ['left', 'right', 'hidden']],
    ['  1 MARET cut head ', ['hidden']],
    ['  1 MARET cut flank left hidden ', ['upstage', 'downstage', 'stage-left', 'stage-right']],
    ['  1 MARET cut head hidden upstage ', []],
    ['  1 MARET cut head hidden up', ['upstage']],
    ['  1 MARET bind ', []],
    ['  4+1/2 MARET cut head / ', ['"OSK THE TALL"', 'PELL']],
    ['  1 MARET cut head / PELL ', ['parry', 'take', 'stand']],
    ['  1 MARET bind / PELL ', ['yield', 'stand']],
    ['  1 MARET cut head / PELL parry ', ['4', '5', 'quarte']],
    ['  1 MARET cut flank / PELL take ', ['flank', 'belly', 'head']],
    ['  1 MARET cut flank / PELL take flank ', ['left', 'right']],
    ['  1 MARET cut head / PELL parry 5 ! ', ['steel', 'swish']],
    ['  1 MARET cut head / PELL parry 5 ! steel+s', ['steel', 'swish']],
    ['  place MARET 1,2 ', ['facing']],
    ['  place MARET 1,2 facing ', ['"OSK THE TALL"', 'PELL']],
    ['  re', ['repeat', 'rest']],
    ['  1 MARET cut # h', []],
    ['  1 MARET cut "h', []],
  ])('after “%s”', (line, expected) => expect(at(line)).toEqual(expected));

  it('in the lists before the first phrase', () => {
    expect(at('  BO ', true, 'fight "A"\nfighters\n')).toEqual(['rapier', 'dagger']);
    expect(at('  BO rapier ', true, 'fight "A"\nfighters\n')).toEqual(['right', 'left', 'none']);
    expect(at('f', true, '')).toEqual(['fight', 'fighters']);
  });

  it('are not offered unasked before a letter, in the middle of a word, or when the word is whole', () => {
    expect(at('  1 MARET ', false)).toEqual([]);
    expect(at('  1 MARET thrust', false)).toEqual([]);
    const text = `${SCORE}  1 MARET cut`;
    expect(offerAt(text, text.length - 2, known, true)).toBeNull();
  });

  it('take the place of the letters they begin with', () => {
    const text = `${SCORE}  1 MARET thr`;
    expect(offerAt(text, text.length, known, false)).toEqual({
      from: text.length - 3,
      to: text.length,
      words: ['thrust'],
    });
  });

  it('are found in any text at any place without a fault', () => {
    const random = chance(3);
    const letters = [...' \n/!+"#,1aB\t🗡', 'place ', 'phrase ', 'fighters\n'];
    for (let n = 0; n < 500; n += 1) {
      let text = '';
      for (let m = 0; m < 40; m += 1) text += letters[Math.floor(random() * letters.length)] ?? '';
      const caret = Math.floor(random() * (text.length + 1));
      const offer = offerAt(text, caret, known, random() < 0.5);
      if (offer !== null) expect(offer.to).toBe(caret);
    }
  });

  it('put the replies that fit the place first, and reach the others by their letters', () => {
    const replies = [
      { word: 'duck', argument: 'nothing' as const, actions: ['cut'], targets: ['head'] },
      { word: 'away', argument: 'nothing' as const, actions: ['cut'], targets: ['flank'] },
      { word: 'yield', argument: 'nothing' as const, actions: ['bind'], targets: null },
    ];
    const offered = (line: string): string[] =>
      offerAt(SCORE + line, (SCORE + line).length, { ...known, replies }, true)?.words ?? [];
    expect(offered('  1 MARET cut flank / PELL ')).toEqual(['away', 'duck']);
    expect(offered('  1 MARET cut flank / PELL y')).toEqual(['yield']);
  });

  it('know patterns, their roles and how they are used', () => {
    const pattern = `${SCORE}pattern "Square" for A, B every 4\n`;
    expect(at('  1 ', true, pattern)).toEqual(['A', 'B']);
    expect(at('  st', true, pattern)).toEqual(['stage']);
    const used = `${pattern}phrase "Two"\n`;
    expect(at('  use ', true, used)).toEqual(['"Square"']);
    expect(at('  use "Square" at 1 by ', true, used)).toEqual(['MARET', '"OSK THE TALL"', 'PELL']);
    expect(at('  use "Square" at 1 by MARET, PELL mi', true, used)).toEqual(['mirrored']);
  });

  it('know everybody in the fight', () => expect(people(SCORE)).toEqual(['MARET', '"OSK THE TALL"', 'PELL']));
});

describe('places in a text', () => {
  it('are lines and columns, and the other way round', () => {
    const text = 'a\n\n\tb🗡c\n';
    for (let line = 0; line < 4; line += 1) expect(lineAt(text, startOf(text, line))).toBe(line);
    expect(startOf(text, 9)).toBe(text.length);
    expect([0, 1, 2, 3].map((characters) => widthOf('\tb🗡c', characters))).toEqual([0, 8, 9, 10]);
  });
});

describe('a conflict', () => {
  const pieces: MergePiece[] = [
    { piece: 'agreed', text: 'a\n' },
    { piece: 'both', base: 'b\n', mine: 'B\n', theirs: '8\n' },
    { piece: 'agreed', text: 'c\n' },
    { piece: 'both', base: '', mine: 'd\n', theirs: '' },
  ];

  it('is settled only when every place is decided', () => {
    expect(settled(pieces, [])).toBeNull();
    expect(settled(pieces, ['mine'])).toBeNull();
    expect(settled(pieces, ['mine', 'theirs'])).toBe('a\nB\nc\n');
    expect(settled(pieces, ['both', 'mine'])).toBe('a\nB\n8\nc\nd\n');
  });
});

describe('hearing', () => {
  const moment = (seconds: number, lines: number[]): PreviewMoment => ({
    seconds,
    beat: '1',
    click: 'beat',
    count_in: null,
    lines,
    words: [],
  });
  const moments = [moment(-1, []), moment(0, [7]), moment(1, []), moment(2, [8])];

  it('is at the last moment that has come', () => {
    expect([-2, -1, 0.5, 9].map((now) => lastBefore(moments, now))).toEqual([-1, 0, 1, 3]);
  });

  it('steps to where something begins, and stays at the ends', () => {
    expect(nextThat(moments, -1, 1)).toBe(1);
    expect(nextThat(moments, 1, 1)).toBe(3);
    expect(nextThat(moments, 3, 1)).toBe(3);
    expect(nextThat(moments, 3, -1)).toBe(1);
    expect(nextThat(moments, 1, -1)).toBe(1);
  });

  it('is of the phrase that the caret is in', () => {
    const phrases = [3, 9].map((line) => ({ name: '', line, safe: null, with_sets: [] }));
    expect([1, 3, 8, 9, 99].map((line) => phraseAt(phrases, line))).toEqual([0, 0, 0, 1, 1]);
    expect(phraseAt([], 4)).toBeNull();
  });
});
