// A hold in words: who, why, where.
import type { HoldRecord, HoldView } from '../core/wire';
import { reasonText } from '../core/reasons';
import { words } from '../core/words';
import { Callers } from './callers';

/** What is known of a hold, with its notes where they are told. */
export function HoldText({ hold, record }: { hold: HoldView; record?: HoldRecord | undefined }) {
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
      {hold.also.length > 0 && <p>{words.alsoUnderWay(hold.also)}</p>}
      {hold.reason !== null && (
        <p>
          <b>{words.why.given(reasonText(hold.reason.says), hold.reason.by)}</b>
        </p>
      )}
      <CalledAndNoted hold={hold} record={record} />
      {hold.released_by !== null && <p>{words.releasedBy(hold.released_by)}</p>}
      <p>{hold.written ? words.holdWritten : words.holdNotWritten}</p>
    </div>
  );
}

/** Who called it, with where their screens were, and what was noted. */
export function CalledAndNoted({ hold, record }: { hold: HoldView; record: HoldRecord | undefined }) {
  return (
    <>
      <Callers hold={hold} screens />
      {record !== undefined && record.earlier_notes > 0 && <p>{words.earlierNotes(record.earlier_notes)}</p>}
      {(record?.notes ?? []).map((note, n) => (
        <p key={n} class="note">
          {note}
        </p>
      ))}
    </>
  );
}
