// The languages of the pages: each has every word and sentence of English, counts as its speakers do, and is chosen as the
// device would have it; nothing that people read stands anywhere else.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseAst } from 'vite';
import { describe, expect, it } from 'vitest';
import { languageOf } from '../core/language';
import { counting } from '../core/words/counting';
import { english } from '../core/words/whole';
import { LANGUAGES, TAGS } from '../core/words/languages';

/** What a word is: a text, a sentence that is given so many things, or more of them. */
type Shape = 'text' | number | { [name: string]: Shape };

function shapeOf(value: unknown): Shape {
  if (typeof value === 'string') return 'text';
  if (typeof value === 'function') return value.length;
  return Object.fromEntries(Object.entries(value as object).map(([name, each]) => [name, shapeOf(each)]));
}

describe.each(TAGS)('the language %s', (tag) => {
  it('has the same words and sentences as English, none of them empty but where English is', async () => {
    const words = await (LANGUAGES[tag].fetch?.() ?? english);
    expect(shapeOf(words)).toEqual(shapeOf(english));
    const empty = (value: unknown): number =>
      typeof value === 'object' && value !== null
        ? Object.values(value).reduce((sum: number, each) => sum + empty(each), 0)
        : Number(value === '');
    expect(empty(words)).toBe(empty(english));
  });

  it('calls a hold HOLD', async () => {
    expect((await (LANGUAGES[tag].fetch?.() ?? english)).hold).toBe('HOLD');
  });
});

it.each([
  [['de-AT', 'en'], 'de'],
  [['fr', 'de'], 'de'],
  [['fr', 'pt-BR'], 'en'],
  [['en-GB', 'de'], 'en'],
  [[], 'en'],
] as const)('a browser that prefers %j is spoken to in %s', (wanted, spoken) => {
  expect(languageOf('auto', wanted)).toBe(spoken);
  expect(languageOf('de', wanted)).toBe('de');
});

it('what is counted is counted as its language does', () => {
  expect(counting('en')(1, { one: 'hold', other: 'holds' })).toBe('1 hold');
  expect(counting('de')(12_345, { one: 'Zug', other: 'Züge' })).toBe('12.345 Züge');
  // Polish has forms for one, few and many (CLDR's plural rules).
  const forms = { one: 'ruch', few: 'ruchy', many: 'ruchów', other: 'ruchu' };
  expect([1, 3, 5, 22, 1.5].map((count) => counting('pl')(count, forms))).toEqual([
    '1 ruch',
    '3 ruchy',
    '5 ruchów',
    '22 ruchy',
    '1,5 ruchu',
  ]);
});

interface Node {
  type: string;
  [field: string]: unknown;
}
/** Attributes that are read or read out. */
const READ = ['aria-label', 'aria-description', 'aria-roledescription', 'alt', 'label', 'placeholder', 'title'];
const LETTERS = /\p{L}{2}/u;

// Every text that somebody would read and that stands in the code itself.
function literals(node: unknown, found: string[] = []): string[] {
  if (Array.isArray(node)) node.forEach((each) => literals(each, found));
  if (typeof node !== 'object' || node === null || Array.isArray(node)) return found;
  const { type, ...fields } = node as Node;
  if (type === 'JSXText') found.push(String(fields['value']));
  if (type === 'JSXAttribute') {
    const { name, value } = fields as unknown as { name: { name: string }; value: Node | null };
    if (READ.includes(name.name)) found.push(...shown(value));
  }
  if (type === 'JSXElement' || type === 'JSXFragment') {
    for (const child of fields['children'] as Node[])
      if (child.type === 'JSXExpressionContainer') found.push(...shown(child));
  }
  for (const field of Object.values(fields)) literals(field, found);
  return found;
}

// What a value shows by itself: texts, and those that it chooses among or puts together.
function shown(node: Node | null): string[] {
  const of = (field: string): string[] => shown((node?.[field] ?? null) as Node | null);
  switch (node?.type) {
    case 'Literal':
      return typeof node['value'] === 'string' ? [node['value']] : [];
    case 'TemplateLiteral':
      return (node['quasis'] as { value: { raw: string } }[]).map(({ value }) => value.raw);
    case 'JSXExpressionContainer':
      return of('expression');
    case 'ConditionalExpression':
      return [...of('consequent'), ...of('alternate')];
    case 'LogicalExpression':
      return of('right');
    default:
      return [];
  }
}

const FOLDERS = ['desk', 'front', 'join', 'phone', 'review', 'score', 'sound', 'ui'];
const files = FOLDERS.flatMap((folder) =>
  readdirSync(join(import.meta.dirname, '..', folder))
    .filter((name) => name.endsWith('.tsx'))
    .map((name) => `${folder}/${name}`),
);

it.each(files)('nothing that people read stands in %s', (file) => {
  const tree = parseAst(readFileSync(join(import.meta.dirname, '..', file), 'utf8'), { lang: 'tsx' });
  expect(literals(tree).filter((text) => LETTERS.test(text))).toEqual([]);
});

it('and a text that does would be found', () => {
  const code = '<p title="One">Two {open ? "Three" : `Four ${n}`} {n > 0 && "Five"}<i class="six" /></p>';
  const found = literals(parseAst(code, { lang: 'tsx' })).filter((text) => LETTERS.test(text));
  expect(found.map((text) => text.trim()).sort()).toEqual(['Five', 'Four', 'One', 'Three', 'Two']);
});
