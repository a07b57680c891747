// What of the English words is left on a page that speaks another language: in what is read and in what is read out. What
// the server says, and is marked so, may be English.
import type { Page } from 'playwright-core';
import { english, type Words } from '../../core/words/whole';

/** A word or sentence of English, as what would be found of it. */
interface Known {
  path: string;
  found: RegExp;
  /** What it is in the other language, which may be much the same. */
  unless: RegExp | null;
}

/** Whole words of this many letters are looked for within a text as well. */
const LONG = 12;
const ANY = '§';

/** Every word of English that the other language has otherwise. */
export function englishOf(other: Words): Known[] {
  const known: Known[] = [];
  const walk = (one: unknown, two: unknown, path: string): void => {
    if (typeof one === 'object' && one !== null) {
      for (const [name, each] of Object.entries(one))
        walk(each, (two as Record<string, unknown>)[name], `${path}.${name}`);
      return;
    }
    const [text, theirs] = [said(one), said(two)];
    if (text === null || text === theirs || !text.split(/§|NaN/).some((part) => /\p{L}{2}/u.test(part))) return;
    known.push({ path, found: patternOf(text), unless: theirs === null ? null : patternOf(theirs) });
  };
  walk(english, other, 'words');
  return known;
}

function patternOf(text: string): RegExp {
  const parts = text.split(/§|NaN/).map((part) => part.replace(/[.*+?^${}()|[\]\\]/g, '\\$&'));
  const pattern = parts.join('.+?');
  return new RegExp(text.length >= LONG ? `(?<!\\p{L})${pattern}(?!\\p{L})` : `^${pattern}$`, 'u');
}

// A sentence with a mark for everything that it is given; nothing where it takes more than texts and numbers.
function said(word: unknown): string | null {
  if (typeof word === 'string') return word;
  try {
    return (word as (...given: string[]) => string)(
      ...Array.from({ length: (word as () => string).length }, () => ANY),
    );
  } catch {
    return null;
  }
}

/** What is left of them on a page, each with its place among the words. */
export async function englishOn(page: Page, known: Known[]): Promise<string[]> {
  const texts = await page.evaluate(() => {
    const here = document.documentElement.lang;
    const marked = (element: Element): boolean => element.closest('[lang]')?.getAttribute('lang') !== here;
    const all: string[] = [];
    for (const element of document.querySelectorAll('body *')) {
      if (marked(element) || element.closest('textarea, script') !== null) continue;
      for (const name of ['aria-label', 'placeholder', 'title', 'alt']) all.push(element.getAttribute(name) ?? '');
      for (const child of element.childNodes) if (child.nodeType === Node.TEXT_NODE) all.push(child.textContent ?? '');
    }
    return [...new Set(all.map((text) => text.replace(/\s+/g, ' ').trim()))].filter((text) => text !== '');
  });
  return texts.flatMap((text) => {
    const first = known.find(({ found, unless }) => found.test(text) && unless?.test(text) !== true);
    return first === undefined ? [] : [`${first.path}: ${text}`];
  });
}

/** What is cut off on a page, of what is read: by its own box, or by one that it stands in. */
export async function cutOn(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const cuts = ({ overflowX, overflowY }: CSSStyleDeclaration) => /hidden|clip/.test(overflowX + overflowY);
    const out: string[] = [];
    for (const element of document.querySelectorAll('body *')) {
      // Moves are the score's, and their lanes have tests of their own. The name at the top gives way to what matters; what is fitted has a test of its own; some is for readers alone.
      if (
        element.closest(
          '.unseen, .fitted, svg, textarea, #vitals p > span, #vitals .news, option, bdi, [class*=strip]',
        ) !== null
      )
        continue;
      for (const child of element.childNodes) {
        if (child.nodeType !== Node.TEXT_NODE || (child.textContent ?? '').trim() === '') continue;
        const range = document.createRange();
        range.selectNodeContents(child);
        const text = range.getBoundingClientRect();
        if (text.width < 2) continue;
        for (let box: Element | null = element; box !== null && box !== document.body; box = box.parentElement) {
          const edge = box.getBoundingClientRect();
          const style = getComputedStyle(box);
          const button = box.tagName === 'BUTTON';
          if (!button && !cuts(style)) continue;
          if (edge.width < 2 || style.clipPath !== 'none') break;
          if (text.right > edge.right + 1 || text.left < edge.left - 1 || text.bottom > edge.bottom + 2) {
            out.push(`${box.tagName}.${box.className}: ${child.textContent}`);
          }
        }
      }
    }
    return [...new Set(out)];
  });
}
