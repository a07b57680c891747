// The language of this device: the one that was chosen, else the first of the browser's that the pages have. It is fetched
// beside whatever else comes up; HOLD and the link are there before it, in English, and stay so where it does not come.
import { LANGUAGES, TAGS, type Language } from './words/languages';
import { speak } from './words';
import type { Choices, Settings } from './settings';

/** What is drawn after HOLD waits for the words no longer than this, milliseconds. */
const PATIENCE_MS = 3_000;

/** The language to speak, of those that the pages have, where the browser prefers `wanted`, best first. */
export function languageOf(chosen: Settings['language'], wanted: readonly string[]): Language {
  if (chosen !== 'auto') return chosen;
  const tags = wanted.map((tag) => tag.toLowerCase().split('-')[0]);
  return tags.map((tag) => TAGS.find((each) => each === tag)).find((found) => found !== undefined) ?? 'en';
}

/** Takes the words of this device's language for the page. */
export function takeOwnLanguage(choices: Choices): Promise<void> {
  return takeLanguage(languageOf(choices.now.language, navigator.languages));
}

/** Takes the words of a language for the page. Done when they are there, or will not be. */
export async function takeLanguage(language: Language): Promise<void> {
  const { fetch } = LANGUAGES[language];
  if (fetch === null) return;
  const come = fetch()
    .then((words) => {
      speak(words);
      document.documentElement.lang = language;
    })
    .catch((fault: unknown) => console.warn('The language does not come; the page stays in English.', fault));
  await Promise.race([come, new Promise((late) => setTimeout(late, PATIENCE_MS))]);
}
