// The words of beginning a stage and its sets, beside those of every page.
import type { Same } from '.';
import { sets } from './en-sets';
import { withFetched } from './fetched';

/** These words in a language. */
export type SetWords = Same<typeof sets>;

/** The words, with these. */
export const words = withFetched('sets', sets, {
  en: null,
  de: () => import('./de-sets').then((german) => german.sets),
});
