// Who is there and who is not, as the desk notes it: fetched when it is opened.
import { useState } from 'preact/hooks';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import { words } from '../core/words';

interface Props {
  view: View;
  session: Session;
}

/** Everybody who plays or could play, and whoever the desk named: one touch each. */
export function Attendance({ view, session }: Props) {
  const [name, setName] = useState('');
  const noted = view.attendance ?? [];
  const performers = (view.roster ?? []).filter(({ role }) => role === 'performer');
  const people = [...new Set([...performers.map((row) => row.name), ...noted.map(({ person }) => person)])];
  const attend = (person: string, present: boolean): void => session.ask({ kind: 'attend', person, present });
  return (
    <>
      <p class="hint">{words.record.attendanceHint}</p>
      <ul class="checklist">
        {people.map((person) => {
          const present = noted.find((each) => each.person === person)?.present;
          return (
            <li key={person}>
              <span>{person}</span>
              <div class="choices" role="group" aria-label={person}>
                <button type="button" aria-pressed={present === true} onClick={() => attend(person, true)}>
                  {words.record.present}
                </button>
                <button type="button" aria-pressed={present === false} onClick={() => attend(person, false)}>
                  {words.record.absent}
                </button>
              </div>
            </li>
          );
        })}
      </ul>
      <form
        class="row"
        onSubmit={(event) => {
          event.preventDefault();
          if (name.trim() === '') return;
          attend(name.trim(), false);
          setName('');
        }}
      >
        <label>
          {words.record.somebodyElse}
          <input
            maxLength={40}
            autocomplete="off"
            value={name}
            onInput={(event) => setName(event.currentTarget.value)}
          />
        </label>
        <button type="submit">{words.record.noteAbsent}</button>
      </form>
    </>
  );
}
