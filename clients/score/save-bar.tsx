// Saving: why, and the act itself. A text with errors may be saved: unfinished work has to be kept somewhere.
import { useState } from 'preact/hooks';
import { words } from '../core/words/score';
import { changed } from './draft';
import type { Studio } from './studio';

/** The save bar of somebody who may write. */
export function SaveBar({ studio }: { studio: Studio }) {
  const [why, setWhy] = useState('');
  const draft = studio.draft.value;
  if (draft === null) return null;
  if (!studio.mayWrite) return <p class="save">{words.score.readOnly}</p>;
  const dirty = changed(draft);
  const runs = studio.report.value?.report.runs ?? true;
  const save = (): void => {
    if (!dirty || studio.saving.value) return;
    if (why.trim() === '') {
      studio.said.value = { good: false, text: words.score.sayWhy };
      document.getElementById('score-why')?.focus();
      return;
    }
    void studio.save(why.trim()).then((done) => done && setWhy(''));
  };
  return (
    <form
      class="save"
      onSubmit={(event) => {
        event.preventDefault();
        save();
      }}
    >
      <label>
        {words.score.why}
        <input
          id="score-why"
          maxLength={500}
          autocomplete="off"
          placeholder={words.score.whyHint}
          value={why}
          onInput={(event) => setWhy(event.currentTarget.value)}
        />
      </label>
      <button type="submit" disabled={!dirty || studio.saving.value}>
        {studio.saving.value ? words.score.saving : words.score.save}
        {dirty && !runs && <small>{words.score.cannotRun}</small>}
      </button>
    </form>
  );
}
