// Words that come with what shows them, in whichever language: a page that shows none carries none.
import { onWords, withPart, words, type Same } from '.';
import { TAGS, type Language } from './languages';

/** How a part of the words is fetched in a language; nothing for English, which comes with what shows it. */
export type Fetch<Part> = Record<Language, (() => Promise<Part>) | null>;

/** The words, with a part of them by its name, in the language that is spoken. */
export function withFetched<Name extends string, Part extends object>(
  name: Name,
  english: Part,
  fetch: Fetch<Same<Part>>,
): typeof words & Record<Name, Same<Part>> {
  withPart({ [name]: english });
  let spoken: Language = 'en';
  onWords(() => {
    const tag = TAGS.find((each) => each === words.tag) ?? 'en';
    if (tag === spoken) return;
    spoken = tag;
    const come: Promise<object> = fetch[tag]?.() ?? Promise.resolve(english);
    // Where they do not come, the part stays in the language it has.
    come.then(
      (its) => spoken === tag && Object.assign(words, { [name]: its }),
      () => (spoken = 'en'),
    );
  });
  return words as typeof words & Record<Name, Same<Part>>;
}
