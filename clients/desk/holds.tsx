// The holds of this call, newest first, and the notes to them.
import type { View } from '../core/model';
import type { Session } from '../core/session';
import type { HoldView } from '../core/wire';
import { words } from '../core/words';
import { HoldText } from '../ui/hold-text';
import { Note } from '../ui/note';

/** The holds that are over; the standing one has its place in the run. */
export function Holds({ view, session }: { view: View; session: Session }) {
  const holds = view.state?.past_holds ?? [];
  return (
    <section>
      <h2>{words.holdsTitle}</h2>
      {holds.length === 0 && <p>{words.holdsNone}</p>}
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
