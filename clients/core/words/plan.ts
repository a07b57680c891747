// The words of the plan of the stage, beside those of every page.
import type { Same } from '.';
import { plan } from './en-plan';
import { withFetched } from './fetched';

/** The plan's words in a language. */
export type PlanWords = Same<typeof plan>;

/** The words, with these. */
export const words = withFetched('plan', plan, {
  en: null,
  de: () => import('./de-plan').then((german) => german.plan),
});
