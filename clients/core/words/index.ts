// The words of the pages: the one place from which they take them. English is always there, so that HOLD and the link wait
// for nothing; another language takes its place in the same object when its file has come (`core/language.ts`). What one page
// alone says comes with that page (`withPart`).
import { words as english } from './en';

/** Of another language the same as of this one: for a text a text, for a sentence one that is given the same. */
export type Same<T> = T extends string
  ? string
  : T extends (...given: infer Given) => string
    ? (...given: Given) => string
    : { readonly [K in keyof T]: Same<T[K]> };

/** The words that every page has. */
type Words = Same<typeof english>;

/** The words now. Read where they are shown, never kept: they may become another language's. */
export const words: Words = { ...english };

/** The words, with a part of them that has come with a page; what another language has said already stays. */
export function withPart<Part extends object>(part: Part): Words & Same<Part> {
  return Object.assign(words, { ...part, ...words }) as unknown as Words & Same<Part>;
}

const listeners = new Set<() => void>();

/** Calls `show` now and whenever the words have become others: for what is written once and not drawn anew. */
export function onWords(show: () => void): void {
  listeners.add(show);
  show();
}

/** From now on the words are these. */
export function speak(language: Words): void {
  Object.assign(words, language);
  for (const show of listeners) show();
}
