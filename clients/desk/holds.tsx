// The holds of this call, newest first, and the notes to them.
import type { View } from '../core/model';
import { lastHold, pastHolds, stageOf } from '../core/reading';
import type { Session } from '../core/session';
import type { HoldView } from '../core/wire';
import { words } from '../core/words';
import { HoldText } from '../ui/hold-text';
import { Note } from '../ui/note';

/** The holds that are over; the standing one has its place in the run. */
export function Holds({ view, session }: { view: View; session: Session }) {
  const stage = stageOf(view);
  const above = stage === 'stopped' ? lastHold(view)?.hold : undefined;
  const all = pastHolds(view);
  // One that is in the run's column already is not shown twice.
  const records = all.filter(({ hold }) => hold.hold !== above);
  return (
    <section>
      <h2>{words.holdsTitle}</h2>
      {view.holds !== null && all.length === 0 && <p>{words.holdsNone}</p>}
      <div class="holds">
        {records.map(({ hold, notes }) => (
          <OneHold key={hold.hold} hold={hold} notes={notes} session={session} />
        ))}
      </div>
    </section>
  );
}

/** A hold, with the notes to it and room for another. */
export function OneHold({ hold, notes, session }: { hold: HoldView; notes: string[]; session: Session }) {
  return (
    <article class="card">
      <HoldText hold={hold} notes={notes} />
      <Note hold={hold} session={session} />
    </article>
  );
}
