// A name and a part, each chosen once.
import { useState } from 'preact/hooks';
import type { PartChoice, Role } from '../core/wire';
import { words } from '../core/words';

interface Props {
  production: string;
  role: Role;
  parts: PartChoice[];
  reason: string | null;
  busy: boolean;
  join(name: string, part: string | null): void;
}

/** The form. A part is one touch; so is joining. */
export function Choose({ production, role, parts, reason, busy, join }: Props) {
  const [name, setName] = useState('');
  const [part, setPart] = useState<string | null>(null);
  const complete = name.trim() !== '' && (parts.length === 0 || part !== null);
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        if (complete && !busy) join(name.trim(), part === '' ? null : part);
      }}
    >
      <h1>{production}</h1>
      <p class="lead">{words.invitedAs(words.role[role])}</p>
      {reason !== null && (
        <p class="reason" role="alert" lang="en">
          {reason}
        </p>
      )}
      <label>
        {words.yourName}
        <input
          name="name"
          autocomplete="name"
          autocapitalize="words"
          enterkeyhint="done"
          maxLength={40}
          placeholder={words.nameHint}
          value={name}
          onInput={(event) => setName(event.currentTarget.value)}
        />
      </label>
      {parts.length > 0 && (
        <fieldset>
          <legend>{words.yourPart}</legend>
          {parts.map((each) => (
            <label key={each.part} class="choice">
              <input type="radio" name="part" checked={part === each.part} onChange={() => setPart(each.part)} />
              <span>
                {each.part} {each.taken_by !== null && <small>{words.takenBy(each.taken_by)}</small>}
              </span>
            </label>
          ))}
          <label class="choice">
            <input type="radio" name="part" checked={part === ''} onChange={() => setPart('')} />
            <span>{words.noPart}</span>
          </label>
        </fieldset>
      )}
      <button type="submit" class="main" disabled={!complete || busy}>
        {busy ? words.joining : words.join}
      </button>
    </form>
  );
}
