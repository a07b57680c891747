// The words of the plan of the stage. They come with the plan, in whichever language: a page that shows none carries none.
import { onWords, withPart, type Same } from '.';
import { plan } from './en-plan';
import { TAGS, type Language } from './languages';

/** The plan's words in a language. */
export type PlanWords = Same<typeof plan>;

/** How they are fetched; English is there already. */
const FETCH: Record<Language, (() => Promise<PlanWords>) | null> = {
  en: null,
  de: () => import('./de-plan').then((german) => german.plan),
};

/** The words, with these. */
export const words = withPart({ plan });

let spoken: Language = 'en';
onWords(() => {
  const tag = TAGS.find((each) => each === words.tag) ?? 'en';
  if (tag === spoken) return;
  spoken = tag;
  const come = FETCH[tag]?.() ?? Promise.resolve(plan);
  // Where they do not come, the plan stays in the language it has.
  come.then(
    (its) => spoken === tag && Object.assign(words, { plan: its }),
    () => (spoken = 'en'),
  );
});
