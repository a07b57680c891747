// The desk's keys in a list: what each does, another one for it, all of them on or off. Fetched when somebody asks for it.
import { useState } from 'preact/hooks';
import { words } from '../core/words/deeds';
import { choose, turnKeys } from './key-choice';
import { keys, keysOn, type Deed } from './keys';

/** The list. */
export function List() {
  const [asking, setAsking] = useState<Deed | null>(null);
  const [refused, setRefused] = useState(false);
  const take = (deed: Deed, event: KeyboardEvent): void => {
    if (event.key === 'Tab' || event.key === 'Shift') return;
    event.preventDefault();
    const taken = choose(deed, event.key);
    setRefused(!taken);
    if (taken) setAsking(null);
  };
  return (
    <>
      <p>{words.keysText}</p>
      <button type="button" role="switch" aria-checked={keysOn.value} onClick={() => turnKeys(!keysOn.value)}>
        {words.keysSwitch}: {keysOn.value ? words.on : words.off}
      </button>
      <div class="keys">
        {(Object.keys(words.deed) as Deed[]).map((deed) => (
          <button
            type="button"
            key={deed}
            data-takes-keys={asking === deed ? 'yes' : undefined}
            aria-pressed={asking === deed}
            onClick={() => setAsking(asking === deed ? null : deed)}
            onKeyDown={(event) => asking === deed && take(deed, event)}
            onBlur={() => setAsking(null)}
          >
            {words.deed[deed]}: {asking === deed ? words.keysPress : keys.value[deed].toUpperCase()}
          </button>
        ))}
      </div>
      <p role="status">{refused ? words.keysRefused : ''}</p>
    </>
  );
}
