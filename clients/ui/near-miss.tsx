// A near miss, reported without a hold by whoever saw one. What opens the report; the report itself comes when it is asked for.
import type { View } from '../core/model';
import type { Session } from '../core/session';
import { words } from '../core/words/near-miss';
import { Later } from './later';
import { Asked } from './parts';

/** What opens the report, and whether the last one was taken. Nothing where the company takes none. */
export function NearMiss({ view, session }: { view: View; session: Session }) {
  const policy = view.why?.near_misses ?? 'no';
  if (policy === 'no') return null;
  const taken = view.taken?.asked === 'near-miss' ? view.taken : null;
  return (
    <section class="near-miss">
      <Asked label={words.nearMiss.open}>
        {(close) => (
          <Later load={() => import('./near-miss-report')}>
            {({ NearMissReport }) => <NearMissReport view={view} session={session} close={close} />}
          </Later>
        )}
      </Asked>
      <p role="status">{taken !== null && `✓ ${words.nearMiss.taken(taken.named)}`}</p>
    </section>
  );
}
