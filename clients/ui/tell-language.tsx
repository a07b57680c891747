// The language of this device, to be chosen: each by the name that its speakers give it. It is spoken from the next loading
// of the page on; why HOLD stays HOLD stands beside it.
import { useEffect, useState } from 'preact/hooks';
import type { Choices, Settings } from '../core/settings';
import { words } from '../core/words';
import { LANGUAGES, TAGS } from '../core/words/languages';

/** The choice. */
export function LanguageChoice({ choices }: { choices: Choices }) {
  const [chosen, setChosen] = useState(choices.now.language);
  const [spoken] = useState(choices.now.language);
  useEffect(() => choices.listen(({ language }) => setChosen(language)), [choices]);
  const choose = (language: string): void => choices.choose({ language: language as Settings['language'] });
  return (
    <div class="language">
      <label>
        {words.language}
        <select value={chosen} onChange={(event) => choose(event.currentTarget.value)}>
          <option value="auto">{words.languageAuto}</option>
          {TAGS.map((tag) => (
            <option key={tag} value={tag} lang={tag}>
              {LANGUAGES[tag].name}
            </option>
          ))}
        </select>
      </label>
      {chosen !== spoken && (
        <button type="button" onClick={() => location.reload()}>
          {words.languageLoad}
        </button>
      )}
      <p>{words.languageHold}</p>
    </div>
  );
}
