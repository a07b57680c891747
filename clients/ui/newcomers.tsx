// "Is that you?": asked where the name is, and told to whoever came under it.
import type { View } from '../core/model';
import type { Session } from '../core/session';
import { words } from '../core/words';

/** What has to be said about who is who, on any page of a member. */
export function Newcomers({ view, session }: { view: View; session: Session }) {
  const { newcomers, waits } = view.me ?? { newcomers: [], waits: null };
  const say = (member: number, same: boolean): void =>
    session.ask({ kind: 'door', ask: { what: 'same', member, same } });
  return (
    <div class="newcomers" role="status">
      {waits !== null && <p>{words.waitsFor(waits)}</p>}
      {newcomers.map(({ member, name, device }) => (
        <section key={member}>
          <p class="lead">{words.cameAsYou(name, device)}</p>
          <div class="answers">
            <button type="button" onClick={() => say(member, true)}>
              {words.thatIsMe}
            </button>
            <button type="button" onClick={() => say(member, false)}>
              {words.thatIsNotMe}
            </button>
          </div>
        </section>
      ))}
    </div>
  );
}
