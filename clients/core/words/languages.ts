// The languages of the pages: each with the name that its own speakers give it, and how its file is fetched. English comes
// with every page. How to add one is in DEVELOPERS.md.
import type { Words } from './whole';

/** Fetches a language's words; nothing for the one that is there already. */
type Fetch = (() => Promise<Words>) | null;

/** The languages by their tags. */
export const LANGUAGES = {
  en: { name: 'English', fetch: null },
  de: { name: 'Deutsch', fetch: () => import('./de').then(({ words }) => words) },
} as const satisfies Record<string, { name: string; fetch: Fetch }>;

/** A language's tag. */
export type Language = keyof typeof LANGUAGES;

/** Every tag. */
export const TAGS = Object.keys(LANGUAGES) as Language[];
