// A hold in words: who, why, where.
import type { HoldView } from '../core/wire';
import { words } from '../core/words';
import { Callers } from './callers';

/** What is known of a hold. */
export function HoldText({ hold, notes = [] }: { hold: HoldView; notes?: string[] }) {
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
      <Callers hold={hold} screens />
      {notes.map((note, n) => (
        <p key={n} class="note">
          {note}
        </p>
      ))}
      {hold.released_by !== null && <p>{words.releasedBy(hold.released_by)}</p>}
      <p>{hold.written ? words.holdWritten : words.holdNotWritten}</p>
    </div>
  );
}
