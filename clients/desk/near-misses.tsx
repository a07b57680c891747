// What nearly went wrong in this call, as it was reported, and room for the desk's own report.
import type { View } from '../core/model';
import { clockOf } from '../core/reading';
import { reasonText } from '../core/reasons';
import type { Session } from '../core/session';
import { words } from '../core/words/near-miss';
import { NearMiss } from '../ui/near-miss';

/** The last near misses, newest first. */
export function NearMisses({ view, session }: { view: View; session: Session }) {
  const { count, misses } = view.nearMisses ?? { count: 0, misses: [] };
  return (
    <section>
      <ul>
        {misses.map(({ at_us, by, spot, reason, note }, n) => (
          <li key={count - n} dir="auto">
            <b>{clockOf(session.serverNowUs(), at_us)}</b>{' '}
            {spot !== null &&
              `${words.spot(spot.phrase_name, spot.beat)}${spot.words === null ? '' : `, ${spot.words}`}. `}
            {reason !== null && `${reasonText(reason)}. `}
            {note !== null && <q>{note}</q>} <small>{by ?? words.nearMiss.nameless}</small>
          </li>
        ))}
      </ul>
      <NearMiss view={view} session={session} />
    </section>
  );
}
