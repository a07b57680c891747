// What the captain and the stage manager may both do: release a hold, stop with a reason, step a walk-through.
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { View } from '../core/model';
import { stageOf } from '../core/reading';
import type { Session } from '../core/session';
import { words } from '../core/words';
import { Callers } from './callers';
import { Asked } from './parts';

interface Props {
  view: View;
  session: Session;
  /** The key that presses it, on pages that have keys. */
  keyed?: Keyed;
}

/** A key, as the page that has it draws and hears it. */
export interface Keyed {
  shortcut: string | undefined;
  drawn: ComponentChildren;
  use(act: (() => void) | null): void;
}

/** Lets go of the standing hold: first shows who called, then asks, then does it. */
export function Release({ view, session, keyed }: Props) {
  const hold = view.state?.hold ?? null;
  if (hold === null || stageOf(view) !== 'held') return null;
  // One more caller while the question stands open closes it: nobody lets go of a call they have not seen.
  return (
    <Asked label={words.release} about={hold.last_event} {...(keyed && { keyed })}>
      {(close) => (
        <>
          <h3>{words.releaseAsk}</h3>
          <Callers hold={hold} />
          <p>{words.releaseNothingMoves}</p>
          <button
            type="button"
            class="main"
            onClick={() => {
              session.ask({ kind: 'release', hold: hold.hold, seen: hold.last_event });
              close();
            }}
          >
            {words.releaseSure}
          </button>
        </>
      )}
    </Asked>
  );
}

/** Ends the run with a reason. */
export function Stop({ view, session, keyed }: Props) {
  const stage = stageOf(view);
  const [reason, setReason] = useState('');
  if (stage === null || stage === 'idle' || stage === 'stopped' || stage === 'complete') return null;
  return (
    <Asked label={words.stop} {...(keyed && { keyed })}>
      {(close) => (
        <>
          <h3>{words.stopTitle}</h3>
          <div class="choices" role="group" aria-label={words.stopTitle}>
            {words.stopReasons.map((each) => (
              <button type="button" key={each} aria-pressed={reason === each} onClick={() => setReason(each)}>
                {each}
              </button>
            ))}
          </div>
          <label>
            {words.stopOther}
            <input
              maxLength={200}
              value={reason}
              autocomplete="off"
              onInput={(event) => setReason(event.currentTarget.value)}
            />
          </label>
          <button
            type="button"
            class="main"
            disabled={reason.trim() === ''}
            onClick={() => {
              session.ask({ kind: 'stop', reason: reason.trim() });
              setReason('');
              close();
            }}
          >
            {words.stopDo}
          </button>
        </>
      )}
    </Asked>
  );
}

/** The next move of a walk-through, and the one before. */
export function Step({ view, session, keyed, back }: Props & { back?: Keyed }) {
  const walks = stageOf(view) === 'running' && view.state?.setup?.drive === 'step';
  const step = (): void => session.step('on');
  const goBack = (): void => session.step('back');
  keyed?.use(walks ? step : null);
  back?.use(walks ? goBack : null);
  if (!walks) return null;
  return (
    <>
      <button type="button" class="back" data-starts aria-keyshortcuts={back?.shortcut} onClick={goBack}>
        {words.stepBack}
        {back?.drawn}
        <small>{words.stepBackHint}</small>
      </button>
      <button type="button" class="main step" data-starts aria-keyshortcuts={keyed?.shortcut} onClick={step}>
        {words.step}
        {keyed?.drawn}
        <small>{words.stepHint}</small>
      </button>
    </>
  );
}

/** Nothing starts by the space bar: it is what a hand falls on. Enter and a tap do. */
export function noStartBySpace(): void {
  const stop = (event: KeyboardEvent): void => {
    const target = event.target instanceof Element ? event.target.closest('[data-starts]') : null;
    if (event.key === ' ' && target !== null) event.preventDefault();
  };
  window.addEventListener('keydown', stop, { capture: true });
  window.addEventListener('keyup', stop, { capture: true });
}
