// Marks in the text of a score: their two numbers are changed where they stand, and nothing else of the text. Pure.
import type { DraftMark } from '../core/wire';

/** A text with its marks, as they stand in it. */
export interface Marked {
  text: string;
  marks: readonly DraftMark[];
}

/** A centimetre is the finest that is written, metres. */
const FINEST = 0.01;
/** A score writes no place farther than this from the middle: FURTHEST of src/score/line.rs. */
const FURTHEST = 1_000;

/** The two numbers of a place as a score writes them: `-1.5,3.0`. */
export function written(x: number, y: number): string {
  return `${numberOf(x)},${numberOf(y)}`;
}

function numberOf(value: number): string {
  const kept = Math.min(Math.max(Math.round(value / FINEST), -FURTHEST / FINEST), FURTHEST / FINEST);
  const [whole = '0', rest = '00'] = (Math.abs(kept) / 100).toFixed(2).split('.');
  const sign = kept < 0 ? '-' : '';
  return `${sign}${whole}.${rest.endsWith('0') ? rest.slice(0, 1) : rest}`;
}

/** The same text with another place for one of its marks. What is in columns after it stays there while there is room. */
export function withPlace({ text, marks }: Marked, number: number, [x, y]: readonly [number, number]): Marked {
  const mark = marks[number];
  if (mark === undefined) return { text, marks };
  const now = written(x, y);
  const minus = text[mark.from] === '-';
  // In columns a number without a minus has a space where it would stand.
  const indented = !minus && text.slice(mark.from - 2, mark.from) === '  ';
  const from = indented ? mark.from - 1 : mark.from;
  const lead = (minus || indented) && !now.startsWith('-') ? ' ' : '';
  const longer = lead.length + now.length - (mark.to - from);
  const spaces = /^ */.exec(text.slice(mark.to))?.[0].length ?? 0;
  const room = longer > 0 ? Math.min(longer, Math.max(0, spaces - 1)) : spaces > 1 ? longer : 0;
  const after = mark.to + Math.max(0, room);
  const put = lead + now + ' '.repeat(Math.max(0, -room));
  const by = put.length - (after - from);
  const begins = from + lead.length;
  const moved = marks.map((each, n) => {
    if (n !== number) return each.from > mark.from ? { ...each, from: each.from + by, to: each.to + by } : each;
    return { ...each, x: Number(numberOf(x)), y: Number(numberOf(y)), from: begins, to: begins + now.length };
  });
  return { text: text.slice(0, from) + put + text.slice(after), marks: moved };
}

/** The same text with one more mark in a phrase whose head stands on that line, counted from 1. */
export function withMark(
  text: string,
  head: number,
  marks: readonly DraftMark[],
  who: string,
  x: number,
  y: number,
): string {
  const lines = text.split('\n');
  const own = marks.filter(({ beat, line }) => beat === null && line > head);
  // Behind the marks that follow the head without a gap, and written as the last of them begins.
  const last = own.reduce((at, { line }) => (lines.slice(at, line - 1).every(isEmpty) ? line : at), head);
  const indent = last === head ? '  ' : (/^\s*/.exec(lines[last - 1] ?? '')?.[0] ?? '  ');
  lines.splice(last, 0, `${indent}place ${who} ${written(x, y)}`);
  return lines.join('\n');
}

const isEmpty = (line: string): boolean => /^\s*(#.*)?$/.test(line);
