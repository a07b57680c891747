// Before the call: the company's checks with who signed each, and who is there. What is signed here is the record of the
// call; a check that nobody signed is said before a run starts, and never refused.
import { useState } from 'preact/hooks';
import { triable, type View } from '../core/model';
import { clockOf } from '../core/reading';
import type { Session } from '../core/session';
import type { CheckView } from '../core/wire';
import { words } from '../core/words';
import { Fold } from '../ui/later';
import { Asked } from '../ui/parts';

interface Props {
  view: View;
  session: Session;
}

/** The checks, behind a fold while something goes: what is not signed stands among what is not as it should be. */
export function FoldedChecks({ view, session }: Props) {
  return (
    <details>
      <summary>{words.record.title}</summary>
      <Checks view={view} session={session} />
    </details>
  );
}

/** The checks and who is there; whoever may not sign sees them all the same. */
export function Checks({ view, session }: Props) {
  const role = view.me?.role;
  const absent = (view.attendance ?? []).filter(({ present }) => !present).map(({ person }) => person);
  return (
    <section class="checks">
      <h2>{words.record.title}</h2>
      {(role === 'desk' || role === 'captain') && <TryHold view={view} session={session} />}
      {view.checks !== null && (
        <Signing view={view} session={session} checks={view.checks} maySign={role === 'desk' || role === 'captain'} />
      )}
      {role === 'desk' && (
        <Fold class="attendance" summary={words.record.attendance(absent)} load={() => import('./attendance')}>
          {({ Attendance }) => <Attendance view={view} session={session} />}
        </Fold>
      )}
    </section>
  );
}

// Every page shows the hold, sounds and answers, and nothing is held; the result stands among the checks.
function TryHold({ view, session }: Props) {
  if (view.trial !== null) return <p role="status">{words.record.trying}</p>;
  return (
    <button type="button" disabled={!triable(view)} onClick={() => session.ask({ kind: 'try-hold' })}>
      {words.record.tryHold}
    </button>
  );
}

function Signing({ view, session, checks, maySign }: Props & { checks: CheckView[]; maySign: boolean }) {
  const own = view.me?.name ?? '';
  const [by, setBy] = useState(own);
  if (checks.length === 0) return <p>{words.record.noChecks}</p>;
  const sign = (check: string, in_order: boolean, note: string | null): void => {
    const name = by.trim();
    session.ask({ kind: 'sign', check, in_order, note, by: name === '' || name === own ? null : name });
  };
  return (
    <>
      {maySign && (
        <label>
          {words.record.signsNow}
          <input maxLength={40} autocomplete="off" value={by} onInput={(event) => setBy(event.currentTarget.value)} />
        </label>
      )}
      <ul class="checklist">
        {checks.map((check) => (
          <li key={check.check} data-signed={check.signed !== null}>
            <span>
              {check.check} <Signed check={check} session={session} />
            </span>
            {maySign && !check.trial && <Sign check={check} sign={sign} />}
          </li>
        ))}
      </ul>
    </>
  );
}

function Signed({ check: { signed }, session }: { check: CheckView; session: Session }) {
  if (signed === null) return <b class="bad">{words.record.unsigned}</b>;
  const at = clockOf(session.serverNowUs(), signed.at_us);
  const who = words.record.signedBy(signed.by, at);
  return (
    <b class={signed.in_order ? 'good' : 'bad'}>
      {signed.in_order ? `✓ ${who}` : `${words.record.notInOrder}. ${who}`}
      {signed.note !== null && `: ${signed.note}`}
    </b>
  );
}

type SignIt = (check: string, in_order: boolean, note: string | null) => void;

// One touch signs; what is not in order, or needs a word, is asked for behind it.
function Sign({ check: { check, signed }, sign }: { check: CheckView; sign: SignIt }) {
  const [note, setNote] = useState('');
  const done = (in_order: boolean, close: () => void): void => {
    sign(check, in_order, note.trim() === '' ? null : note.trim());
    setNote('');
    close();
  };
  return (
    <div class="choices">
      {signed === null && (
        <button type="button" aria-label={words.record.signThis(check)} onClick={() => sign(check, true, null)}>
          {words.record.sign}
        </button>
      )}
      <Asked label={words.record.more} name={words.record.moreOf(check)}>
        {(close) => (
          <>
            <label>
              {words.record.noteOf(check)}
              <input
                maxLength={2_000}
                autocomplete="off"
                value={note}
                onInput={(event) => setNote(event.currentTarget.value)}
              />
            </label>
            <div class="choices">
              <button type="button" onClick={() => done(true, close)}>
                {words.record.inOrder}
              </button>
              <button type="button" onClick={() => done(false, close)}>
                {words.record.notInOrder}
              </button>
            </div>
          </>
        )}
      </Asked>
    </div>
  );
}
