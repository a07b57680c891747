// A hold in words: who, why, where.
import type { HoldView } from '../core/wire';
import { words } from '../core/words';

/** What is known of a hold. */
export function HoldText({ hold }: { hold: HoldView }) {
  const spot = hold.spot;
  return (
    <div class="hold-text">
      <p>
        <b>{words.holdNumber(hold.hold)}</b> {spot === null ? words.nowhere : words.spot(spot.phrase_name, spot.beat)}
        {hold.percent !== null && ` ${words.holdAtPercent(hold.percent)}`}
      </p>
      {spot?.words != null && (
        <p>
          {spot.move !== null && `${words.move(spot.move)}: `}
          {spot.words}
        </p>
      )}
      <ul>
        {hold.callers.map((caller, n) => (
          <li key={n}>
            <b>{caller.name}</b>, {words.role[caller.role]}
            {caller.reason !== null && `: ${caller.reason}`}
            {caller.screen !== null && (
              <small> {words.screenAt(words.spot(caller.screen.phrase_name, caller.screen.beat))}</small>
            )}
          </li>
        ))}
      </ul>
      {hold.notes.map((note, n) => (
        <p key={n} class="note">
          {note}
        </p>
      ))}
      {hold.released_by !== null && <p>{words.releasedBy(hold.released_by)}</p>}
      <p>{hold.written ? words.holdWritten : words.holdNotWritten}</p>
    </div>
  );
}
