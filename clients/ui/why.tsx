// Why a hold was called: the company's own list, once everybody has been told, in one touch; another touch puts it right.
import type { Session } from '../core/session';
import type { View } from '../core/model';
import type { HoldView } from '../core/wire';
import { reasonText } from '../core/reasons';
import { words } from '../core/words';

/** The reasons to choose from, and the one that was given. Nothing where the company asks for none. */
export function Why({ view, hold, session }: { view: View; hold: HoldView; session: Session }) {
  const reasons = view.why?.reasons ?? [];
  if (reasons.length === 0) return null;
  const given = hold.reason;
  return (
    <section class="why" aria-label={words.why.title(hold.hold)}>
      <p class="title">
        <b>{words.why.title(hold.hold)}</b>
      </p>
      <div class="choices" role="group" aria-label={words.why.title(hold.hold)}>
        {reasons.map((reason) => (
          <button
            type="button"
            key={reason}
            aria-pressed={given?.says === reason}
            onClick={() => session.ask({ kind: 'reason', hold: hold.hold, reason })}
          >
            {reasonText(reason)}
          </button>
        ))}
      </div>
      <p class={given === null ? 'quiet hint' : 'quiet'} role="status">
        {given === null ? words.why.hint : words.why.given(reasonText(given.says), given.by)}
      </p>
    </section>
  );
}
