// All words of all pages: what a language must have.
import type { Same } from '.';
import { words } from './en';
import { alone } from './en-alone';
import { deed, keyList } from './en-deeds';
import { feels } from './en-feels';
import { home } from './en-home';
import { nearMiss } from './en-near-miss';
import { ordering } from './en-ordering';
import { review } from './en-review';
import { score } from './en-score';
import { sounds } from './en-sound';
import { standingBy } from './en-standing-by';
import { order } from './en-tonight';

/** English, whole. No page loads it. */
export const english = {
  ...words,
  alone,
  deed,
  ...keyList,
  feels,
  home,
  nearMiss,
  ordering,
  review,
  score,
  sounds,
  standingBy,
  order,
};

/** A language: for every word of English one of its own, for every sentence one that is given the same. */
export type Words = Same<typeof english>;
