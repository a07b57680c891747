// Another speed, while a run goes: it begins with the next phrase.
import { useState } from 'preact/hooks';
import type { View } from '../core/model';
import { counting, percentOf } from '../core/reading';
import type { Session } from '../core/session';
import { words } from '../core/words';
import { useKey } from './keys';
import { Key, shortcut } from './key';

/** Speeds that can be asked for, percent, and the step of the keys. */
export const LEAST_PERCENT = 10;
export const MOST_PERCENT = 150;
export const SPEED_STEP = 5;

/** What changes the speed; nothing where the clock drives nothing. */
export function NewSpeed({ view, session }: { view: View; session: Session }) {
  return counting(view) && view.state?.setup?.drive === 'clock' ? <Speed view={view} session={session} /> : null;
}

function Speed({ view, session }: { view: View; session: Session }) {
  const now = view.state?.next_speed?.percent ?? percentOf(view) ?? 50;
  const [typed, setTyped] = useState<number | null>(null);
  const ask = (percent: number): void => {
    session.ask({ kind: 'speed', percent: Math.min(MOST_PERCENT, Math.max(LEAST_PERCENT, percent)) });
    setTyped(null);
  };
  useKey('slower', () => ask(now - SPEED_STEP));
  useKey('faster', () => ask(now + SPEED_STEP));
  return (
    <form
      class="speed"
      onSubmit={(event) => {
        event.preventDefault();
        ask(typed ?? now);
      }}
    >
      <button type="button" aria-keyshortcuts={shortcut('slower')} onClick={() => ask(now - SPEED_STEP)}>
        {words.slower} <Key of="slower" />
      </button>
      <button type="button" aria-keyshortcuts={shortcut('faster')} onClick={() => ask(now + SPEED_STEP)}>
        {words.faster} <Key of="faster" />
      </button>
      <label>
        {words.newSpeed}
        <input
          type="number"
          min={LEAST_PERCENT}
          max={MOST_PERCENT}
          step={1}
          value={typed ?? now}
          onInput={(event) => setTyped(Math.round(event.currentTarget.valueAsNumber) || null)}
        />
      </label>
      <button type="submit">{words.setSpeed}</button>
    </form>
  );
}
