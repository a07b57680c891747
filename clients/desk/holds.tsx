// The holds of this call, newest first, and the notes to them.
import type { View } from '../core/model';
import { pastHolds } from '../core/reading';
import type { Session } from '../core/session';
import type { HoldRecord, HoldView } from '../core/wire';
import { words } from '../core/words';
import { HoldText } from '../ui/hold-text';
import { Later } from '../ui/later';
import { Note } from '../ui/note';
import { caughtBy } from './caught';
import { Asked } from '../ui/parts';

/** The holds that are over; the standing one has its place in the run. */
export function Holds({ view, session }: { view: View; session: Session }) {
  const above = caughtBy(view)?.hold;
  const all = pastHolds(view);
  // One that is in the run's column already is not shown twice.
  const records = all.filter(({ hold }) => hold.hold !== above);
  return (
    <section>
      <h2>{words.holdsTitle}</h2>
      {view.holds !== null && all.length === 0 && <p>{words.holdsNone}</p>}
      <div class="holds">
        {records.map((record) => (
          <OneHold key={record.hold.hold} view={view} hold={record.hold} record={record} session={session} />
        ))}
      </div>
    </section>
  );
}

/** A hold, with the notes to it and room for another. */
export function OneHold(props: { view: View; hold: HoldView; record: HoldRecord | undefined; session: Session }) {
  const { view, hold, record, session } = props;
  return (
    <article class="card">
      <HoldText hold={hold} record={record} />
      {(view.why?.reasons.length ?? 0) > 0 && (
        <Asked label={words.why.giveShort} name={words.why.give(hold.hold)}>
          {() => (
            <Later load={() => import('../ui/why')}>
              {({ Why }) => <Why view={view} hold={hold} session={session} />}
            </Later>
          )}
        </Asked>
      )}
      <Note hold={hold} session={session} />
    </article>
  );
}
