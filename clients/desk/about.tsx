// When somebody came and with what, and what the desk may do about them: one touch opens it, the next does it.
import { dayAndTime } from '../core/day';
import type { Session } from '../core/session';
import type { DoorAsk, MemberView } from '../core/wire';
import { words } from '../core/words';

/** What it says. */
export function About({ row, session, close }: { row: MemberView; session: Session; close(): void }) {
  const { member, name, role, joined, device, notes_taken } = row;
  const ask = (asked: DoorAsk): void => (session.ask({ kind: 'door', ask: asked }), close());
  return (
    <div class="asked" role="group" aria-label={words.aboutOf(name)}>
      <p>{words.came(dayAndTime(joined), device)}</p>
      {role === 'captain' && (
        <button type="button" onClick={() => ask({ what: 'notes', member, taken: !notes_taken })}>
          {notes_taken ? words.notesRefuse : words.notesTake}
        </button>
      )}
      <button type="button" onClick={() => ask({ what: 'remove', member })}>
        {words.takeOut(name)}
      </button>
    </div>
  );
}
