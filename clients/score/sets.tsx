// The sets of a stage: which of them is drawn on, for which fights it is, and a new one. What is chosen here is written into the
// text of stage.toml as what is drawn is.
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { SetChange, SetFor, StageSetView, StageTold } from '../core/wire';
import { words } from '../core/words/plan';
import { words as more } from '../core/words/sets';
import { Asked } from '../ui/parts';

interface Props {
  told: StageTold;
  shown: StageSetView;
  free: boolean;
  /** Draws on that set, or on what stands there always; or on what follows from the one that is drawn on. */
  choose(set: string | null | ((on: string | null) => string | null)): void;
  /** Writes a change; `done` once it is written. */
  act(change: SetChange, done?: () => void): void;
}

/** Which set, and what there is to be chosen about it. */
export function Sets({ told, shown, free, choose, act }: Props) {
  const { set } = shown;
  return (
    <>
      {told.sets.length > 1 && (
        <label>
          {words.plan.set}
          <select value={set ?? ''} onChange={(event) => choose(event.currentTarget.value || null)}>
            {told.sets.map((each) => (
              <option key={each.set ?? ''} value={each.set ?? ''}>
                {each.set === null ? words.plan.always : words.plan.setOf(each.set, each.fights)}
              </option>
            ))}
          </select>
        </label>
      )}
      {free && (
        <Asked label={more.sets.newSet}>
          {(close) => (
            <NewSet
              told={told}
              begin={(name, fights) =>
                act({ act: 'begin', set: name, fights }, () => {
                  choose(name);
                  close();
                })
              }
            />
          )}
        </Asked>
      )}
      {set !== null && free && <Chosen key={set} {...{ told, shown, set, choose, act }} />}
    </>
  );
}

/** What it is called, and for which fights. */
function NewSet({ told, begin }: { told: StageTold; begin(name: string, fights: string[]): void }) {
  const [name, setName] = useState('');
  const [fights, setFights] = useState<string[]>([]);
  const toggle = (named: string): void =>
    setFights(fights.includes(named) ? fights.filter((each) => each !== named) : [...fights, named]);
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        begin(name.trim(), fights);
      }}
    >
      <label>
        {more.sets.newName}
        <input maxLength={60} dir="auto" value={name} onInput={(event) => setName(event.currentTarget.value)} />
      </label>
      <ForFights {...{ told, fights, toggle }} set={null} />
      <button type="submit" disabled={name.trim() === ''}>
        {more.sets.newBegin}
      </button>
    </form>
  );
}

/** The set that is drawn on. */
function Chosen(props: Omit<Props, 'free'> & { set: string }) {
  const { told, shown, set, choose, act } = props;
  const [name, setName] = useState(set);
  const rename = (): void => {
    const to = name.trim();
    if (to !== '' && to !== set) act({ act: 'rename', set, to }, () => choose((on) => (on === set ? to : on)));
  };
  // Whoever has chosen another set meanwhile stays on it.
  const leave = (): void => choose((on) => (on === set ? null : on));
  return (
    <fieldset class="measures">
      <legend dir="auto">{set}</legend>
      <p class="hint" dir="auto">
        {more.sets.drawNow(set)}
      </p>
      <label>
        {more.sets.name}
        <input
          maxLength={60}
          dir="auto"
          value={name}
          onInput={(event) => setName(event.currentTarget.value)}
          onChange={rename}
        />
      </label>
      <ForFights
        {...{ told, set }}
        fights={shown.fights}
        toggle={(fight, on) => act({ act: on ? 'add' : 'remove', set, fight })}
      />
      <button type="button" onClick={() => act({ act: 'take-away', set }, leave)}>
        {more.sets.takeAway}
      </button>
    </fieldset>
  );
}

interface Choice {
  told: StageTold;
  /** The set that is chosen for; nothing for one that is new. */
  set: string | null;
  fights: readonly string[];
  toggle(named: string, on: boolean): void;
}

/** The fights of the production and their phrases, each to be put on the set or taken from it. */
function ForFights({ told, set, fights, toggle }: Choice) {
  const known = new Set(told.for_sets.map(({ named }) => named));
  const one = (named: string, label: string) => {
    const on = fights.includes(named);
    const other = told.sets.find((each) => each.set !== null && each.set !== set && each.fights.includes(named));
    return (
      <button type="button" aria-pressed={on} disabled={!on && other !== undefined} onClick={() => toggle(named, !on)}>
        {other?.set == null || on ? label : more.sets.onAnother(label, other.set)}
      </button>
    );
  };
  return (
    <div role="group" aria-label={more.sets.for} class="for-fights">
      <b aria-hidden="true">{more.sets.for}</b>
      <ul class="things">
        {fights
          .filter((named) => !known.has(named))
          .map((named) => (
            <li key={named}>{one(named, more.sets.unknown(named))}</li>
          ))}
        {told.for_sets
          .filter(({ phrase }) => phrase === null)
          .map(({ named, fight }) => (
            <li key={named}>
              {one(named, fight)}
              <Phrases {...{ fight, one }} phrases={told.for_sets.filter((each) => each.fight === fight)} />
            </li>
          ))}
      </ul>
      <p class="hint">{more.sets.forHint}</p>
    </div>
  );
}

/** The phrases before which the scene can change, behind a line of their own. */
function Phrases(props: { fight: string; phrases: SetFor[]; one(named: string, label: string): ComponentChildren }) {
  const { fight, phrases, one } = props;
  return (
    <details>
      <summary>{more.sets.phrasesOf(fight)}</summary>
      <ul class="things">
        {phrases.map(
          ({ named, phrase }) => phrase !== null && <li key={named}>{one(named, more.sets.from(phrase))}</li>,
        )}
      </ul>
    </details>
  );
}
