// Fight, phrases, speed, count-in, drive.
import { useState } from 'preact/hooks';
import type { FightChoice, Setup } from '../core/wire';
import { words } from '../core/words';
import type { Deed } from './keys';
import { foundIn, lastAtFirst } from './found';
import { Key } from './key';
import { useMovesOf } from './moves-of';

interface Props {
  fights: FightChoice[];
  setup: Setup;
  change(setup: Setup): void;
  /** With it the moves of a fight are asked for. */
  personalKey: string;
}

/** The fields of a run. Every choice can be made with the keyboard alone. */
export function SetupForm({ fights, setup, change, personalKey }: Props) {
  const fight = fights.find((each) => each.fight === setup.fight);
  const phrases = fight?.phrases ?? [];
  const moves = useMovesOf(personalKey, fight).filter((move) => move.phrase === setup.from);
  const set = (part: Partial<Setup>): void => change({ ...setup, ...part });
  const choose = (name: string): void => {
    const chosen = fights.find((each) => each.fight === name);
    if (chosen === undefined) return;
    const weapons = chosen.sets.find((each) => each.weapons === setup.weapons)?.weapons ?? null;
    set({ fight: name, weapons, from: 0, from_move: null, to: lastAtFirst(chosen), count_in: chosen.count_in });
  };
  const [scores, drills] = [fights.filter((each) => !each.drill), fights.filter((each) => each.drill)];
  const found = fight === undefined ? null : foundIn(fight, setup.weapons);
  return (
    <div class="fields">
      <label class="wide">
        {words.fight}
        <select value={setup.fight} onChange={(event) => choose(event.currentTarget.value)}>
          {scores.map((each) => (
            <option key={each.fight}>{each.fight}</option>
          ))}
          {drills.length > 0 && (
            <optgroup label={words.drills}>
              {drills.map((each) => (
                <option key={each.fight}>{each.fight}</option>
              ))}
            </optgroup>
          )}
        </select>
      </label>
      {fight !== undefined && fight.sets.length > 0 && (
        <label class="wide">
          {words.weapons}
          <select
            value={setup.weapons ?? ''}
            onChange={(event) => set({ weapons: event.currentTarget.value === '' ? null : event.currentTarget.value })}
          >
            <option value="">{words.weaponsAsWritten}</option>
            {fight.sets.map((each) => (
              <option key={each.weapons} value={each.weapons}>
                {each.weapons}
              </option>
            ))}
          </select>
        </label>
      )}
      {fight !== undefined && found !== null && (
        <p class="wide">
          {words.revision(fight.revision)}
          {found.errors + found.warnings > 0 && `: ${words.checks(found.errors, found.warnings)}`}
        </p>
      )}
      <Phrase
        label={words.from}
        keyed={['fromBack', 'fromOn']}
        phrases={phrases}
        value={setup.from}
        change={(from) => set({ from, from_move: null, to: Math.max(from, setup.to) })}
      />
      <Phrase
        label={words.toPhrase}
        keyed={['toBack', 'toOn']}
        phrases={phrases}
        value={setup.to}
        change={(to) => set({ to, ...(to < setup.from ? { from: to, from_move: null } : {}) })}
      />
      {moves.length > 1 && (
        <label class="wide">
          {words.fromMove}
          <select
            value={String(setup.from_move ?? 1)}
            onChange={(event) => set({ from_move: moveFrom(event.currentTarget.value) })}
          >
            {moves.map((move) => (
              <option key={move.number} value={String(move.number)}>
                {words.moveChoice(move)}
              </option>
            ))}
          </select>
        </label>
      )}
      <Count
        label={`${words.speed} (%)`}
        keyed={['slower', 'faster']}
        value={setup.percent}
        range={[10, 150]}
        change={(percent) => set({ percent })}
      />
      <Count
        label={words.countInBeats}
        value={setup.count_in}
        range={[0, 64]}
        change={(count_in) => set({ count_in })}
      />
      <label>
        {words.drive}
        <select
          value={setup.drive}
          onChange={(event) => set({ drive: event.currentTarget.value === 'step' ? 'step' : 'clock' })}
        >
          <option value="clock">{words.driveClock}</option>
          <option value="step">{words.driveStep}</option>
        </select>
      </label>
    </div>
  );
}

// The first move is the beginning of its phrase.
function moveFrom(chosen: string): number | null {
  const number = Number(chosen);
  return number > 1 ? number : null;
}

function Phrase(props: {
  label: string;
  keyed: Deed[];
  phrases: string[];
  value: number;
  change(phrase: number): void;
}) {
  return (
    <label class="half-wide">
      <span>
        {props.label}{' '}
        {props.keyed.map((deed) => (
          <Key key={deed} of={deed} />
        ))}
      </span>
      <select value={String(props.value)} onChange={(event) => props.change(Number(event.currentTarget.value))}>
        {props.phrases.map((name, phrase) => (
          <option key={phrase} value={String(phrase)}>
            {phrase + 1}. {name}
          </option>
        ))}
      </select>
    </label>
  );
}

/** A number that is taken as it is typed. While somebody types, what they typed stands, whatever the server says. */
function Count(props: {
  label: string;
  keyed?: Deed[];
  value: number;
  range: [number, number];
  change(value: number): void;
}) {
  const [least, most] = props.range;
  const [typed, setTyped] = useState<string | null>(null);
  const type = (text: string): void => {
    setTyped(text);
    const asked = Math.round(Number(text));
    if (text.trim() !== '' && asked >= least && asked <= most) props.change(asked);
  };
  return (
    <label>
      <span>
        {props.label}{' '}
        {props.keyed?.map((deed) => (
          <Key key={deed} of={deed} />
        ))}
      </span>
      <input
        type="number"
        min={least}
        max={most}
        step={1}
        value={typed ?? props.value}
        onInput={(event) => type(event.currentTarget.value)}
        onBlur={() => setTyped(null)}
      />
    </label>
  );
}
