// The words of the pages: the one place from which they take them. English is always there, so that HOLD and the link wait
// for nothing; another language takes its place in the same object when its file has come (`core/language.ts`).
import { words as english } from './en';

/** A language: for every word of English one of its own, for every sentence one that is given the same. */
export type Words = Same<typeof english>;

type Same<T> = T extends string
  ? string
  : T extends (...given: infer Given) => string
    ? (...given: Given) => string
    : { readonly [K in keyof T]: Same<T[K]> };

/** The words now. Read where they are shown, never kept: they may become another language's. */
export const words: Words = { ...english };

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
