// All words of all pages: what a language must have.
import type { Same } from '.';
import { words } from './en';
import { alone } from './en-alone';
import { feels } from './en-feels';
import { home } from './en-home';
import { nearMiss } from './en-near-miss';
import { review } from './en-review';
import { score } from './en-score';
import { sounds } from './en-sound';

/** English, whole. No page loads it. */
export const english = { ...words, alone, feels, home, nearMiss, review, score, sounds };

/** A language: for every word of English one of its own, for every sentence one that is given the same. */
export type Words = Same<typeof english>;
