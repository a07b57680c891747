// What the desk says beside the state in its top line: the fight and who can be cued; in a hold who called it, when and
// where; after a stop why. The page's head says state, speed and phrase by itself.
import type { View } from '../core/model';
import { clockOf, lastHold, stageOf } from '../core/reading';
import type { Session } from '../core/session';
import type { HoldView } from '../core/wire';
import { words } from '../core/words';
import { CuedPegs } from './pegs';

/** The line. */
export function Top({ view, session }: { view: View; session: Session }) {
  const stage = stageOf(view);
  const fight = view.state?.setup?.fight ?? null;
  if (stage === null || view.state === null || stage === 'idle') return null;
  const hold = stage === 'held' ? view.state.hold : null;
  return (
    <>
      {stage === 'held' ? (
        hold !== null && <Called hold={hold} session={session} />
      ) : (
        <p class="about">
          {fight !== null && <b dir="auto">{fight}</b>}
          {(stage === 'stopped' || stage === 'complete') && <span dir="auto">{whereAndWhy(view)}</span>}
        </p>
      )}
      {stage === 'running' && <CuedPegs view={view} />}
    </>
  );
}

function Called({ hold, session }: { hold: HoldView; session: Session }) {
  const [first] = hold.callers;
  const at = clockOf(session.serverNowUs(), hold.at_us);
  return (
    <>
      <p class="about">
        {first !== undefined && (
          <b dir="auto">
            {words.desk.calledAt(first.name, hold.caller_count - 1, at)}
            {first.reason !== null && `: ${first.reason}`}
          </b>
        )}
        <span dir="auto">
          {hold.spot === null ? words.nowhere : words.spot(hold.spot.phrase_name, hold.spot.beat)}
          {hold.percent !== null && ` ${words.holdAtPercent(hold.percent)}`}
        </span>
      </p>
      <p class="told">
        <span>✓ {words.holdTold}</span>
        <span>{hold.written ? `✓ ${words.holdWritten}` : words.holdNotWritten}</span>
      </p>
    </>
  );
}

function whereAndWhy(view: View): string {
  const spot = view.state?.spot ?? lastHold(view)?.spot ?? null;
  const stopped = stageOf(view) === 'stopped' && spot !== null;
  const where = stopped ? [words.desk.stoppedAt(words.spot(spot.phrase_name, spot.beat))] : [];
  return [...where, ...(view.state?.because == null ? [] : [view.state.because])].join(' ');
}
