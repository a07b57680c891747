// A note to a hold. What is being typed belongs to the hold it was begun for: it stays there while the hold is released,
// moves to another place of the page or gets another caller.
import { signal } from './signal';
import type { Session } from '../core/session';
import type { HoldView } from '../core/wire';
import { words } from '../core/words';

const drafts = signal<Record<number, string>>({});

/** The field, and what sends it. */
export function Note({ hold, session }: { hold: HoldView; session: Session }) {
  const text = drafts.value[hold.hold] ?? '';
  const write = (draft: string): void => {
    drafts.value = { ...drafts.value, [hold.hold]: draft };
  };
  return (
    <form
      class="row"
      onSubmit={(event) => {
        event.preventDefault();
        if (text.trim() === '') return;
        session.ask({ kind: 'note', hold: hold.hold, text: text.trim() });
        write('');
      }}
    >
      <label>
        {words.noteTo(hold.hold)}
        <input
          class="note-field"
          maxLength={2_000}
          autocomplete="off"
          dir="auto"
          placeholder={words.noteHint}
          value={text}
          onInput={(event) => write(event.currentTarget.value)}
        />
      </label>
      <button type="submit">{words.noteAdd}</button>
    </form>
  );
}
