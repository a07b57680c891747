// What the score page makes by itself: a phrase or a pattern begun, and two texts folded where they are alike.
import { describe, expect, it } from 'vitest';
import type { ComparedRow } from '../core/wire';
import { stretches } from '../score/compared';
import { withPart } from '../score/draft';

const row = (number: number, older: string | null, newer: string | null): ComparedRow => ({
  older: older === null ? null : { line: number, text: older },
  newer: newer === null ? null : { line: number, text: newer },
});

describe('a part that is begun', () => {
  it('stands at the end, under a name of its own, with the caret in its first line', () => {
    let text = 'fight "A"\n\n\n';
    for (const name of ['New phrase', 'New phrase 2', 'New phrase 3']) {
      const begun = withPart(text, 'phrase');
      expect(begun.text.startsWith('fight "A"\n\nphrase')).toBe(true);
      expect(begun.text.slice(0, begun.caret).endsWith(`phrase "${name}"\n  `)).toBe(true);
      text = begun.text;
    }
    expect(withPart(text, 'pattern').text).toContain('\n\npattern "New pattern" for A, B\n');
  });
});

describe('two texts', () => {
  it('are folded where nothing near was changed, and every row stands once', () => {
    const alike = Array.from({ length: 20 }, (_, n) => row(n + 1, 'x', 'x'));
    const rows = [...alike, row(21, 'a', 'b'), row(22, null, 'c'), ...alike];
    const found = stretches(rows);
    expect(found.map(({ folded, rows: { length } }) => [folded, length])).toEqual([
      [true, 17],
      [false, 8],
      [true, 17],
    ]);
    expect(found.flatMap((stretch) => stretch.rows)).toEqual(rows);
    expect(stretches(alike)).toEqual([{ rows: alike, folded: true }]);
    expect(stretches([])).toEqual([]);
  });
});
