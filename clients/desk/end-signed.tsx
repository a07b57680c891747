// Who signs the record of a call, and its end: fetched when it is opened.
import { useState } from 'preact/hooks';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import { words } from '../core/words';
import { intoSight } from '../ui/into-sight';

interface Props {
  view: View;
  session: Session;
}

/** The line under the record of a call: who signs it. The call ends with it, signed or not. */
export function EndSigned({ view, session, close }: Props & { close(): void }) {
  const [by, setBy] = useState(view.me?.name ?? '');
  const end = (): void => {
    session.ask({ kind: 'end-call', signed_by: by.trim() === '' ? null : by.trim() });
    close();
  };
  return (
    <>
      <label>
        {words.record.signsRecord}
        <input maxLength={40} autocomplete="off" value={by} onInput={(event) => setBy(event.currentTarget.value)} />
      </label>
      <button type="button" class="main" ref={intoSight} onClick={end}>
        {words.endCallSure}
      </button>
    </>
  );
}
