// Newcomers under a name that is there already: who they are, said by the desk. Fetched when somebody has come so.
import type { Session } from '../core/session';
import type { MemberView } from '../core/wire';
import { words } from '../core/words';

/** Whoever came under the name of somebody who has been here is that person, or is not: one touch says it. */
export function Same({
  row: { member, name: newcomer },
  name,
  session,
}: {
  row: MemberView;
  name: string;
  session: Session;
}) {
  const say = (same: boolean): void => session.ask({ kind: 'door', ask: { what: 'same', member, same } });
  return (
    <div class="asked" role="group" aria-label={words.cameAs(newcomer, name)}>
      <p>{words.cameAs(newcomer, name)}</p>
      <div class="answers">
        <button type="button" onClick={() => say(true)}>
          {words.isName(name)}
        </button>
        <button type="button" onClick={() => say(false)}>
          {words.isNotName(name)}
        </button>
      </div>
    </div>
  );
}

/** All at once, for those whose own page has no link any more. */
export function SameAll({ roster, session }: { roster: MemberView[]; session: Session }) {
  const claimed = new Set(roster.map(({ claims }) => claims));
  const gone = roster.filter(({ member, link }) => link === 'lost' && claimed.has(member));
  if (gone.length < 2) return null;
  return (
    <div class="asked" role="group" aria-label={words.sameAllSure}>
      <p>{words.sameAll(gone.map(({ name }) => name).join(', '))}</p>
      <button type="button" onClick={() => session.ask({ kind: 'door', ask: { what: 'same-all' } })}>
        {words.sameAllSure}
      </button>
    </div>
  );
}
