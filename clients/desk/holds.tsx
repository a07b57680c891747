// The holds of this call, newest first, and the notes to them.
import type { View } from '../core/model';
import { lastHold, stageOf } from '../core/reading';
import type { Session } from '../core/session';
import type { HoldView } from '../core/wire';
import { words } from '../core/words';
import { HoldText } from '../ui/hold-text';
import { Note } from '../ui/note';

/** The holds that are over; the standing one has its place in the run. */
export function Holds({ view, session }: { view: View; session: Session }) {
  const stage = stageOf(view);
  const above = stage === 'stopped' ? lastHold(view)?.hold : undefined;
  const all = view.state?.past_holds ?? [];
  // One that is in the run's column already is not shown twice.
  const holds = all.filter((hold) => hold.hold !== above);
  return (
    <section>
      <h2>{words.holdsTitle}</h2>
      {all.length === 0 && <p>{words.holdsNone}</p>}
      <div class="holds">
        {holds.map((hold) => (
          <OneHold key={hold.hold} hold={hold} session={session} />
        ))}
      </div>
    </section>
  );
}

/** A hold, with the notes to it and room for another. */
export function OneHold({ hold, session }: { hold: HoldView; session: Session }) {
  return (
    <article class="card">
      <HoldText hold={hold} />
      <Note hold={hold} session={session} />
    </article>
  );
}
