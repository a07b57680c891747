// Codes to scan, one for each role; and taking them back. Fetched when somebody wants to see them.
import { dayAndTime } from '../core/day';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import type { InvitationView } from '../core/wire';
import { words } from '../core/words';
import { Asked } from '../ui/parts';

/** The codes, as soon as the server has told them. */
export function Codes({ view, session }: { view: View; session: Session }) {
  if (view.invitations === null) return <p>{words.invitationsWait}</p>;
  return (
    <>
      {view.invitations.some((each) => each.secure !== null) && <p>{words.invitationsTrust}</p>}
      {view.fingerprint !== null && (
        <p>
          {words.invitationsFingerprint} <code class="fingerprint">{view.fingerprint}</code>
        </p>
      )}
      <div class="invitations">
        {view.invitations.map((each) => (
          <Invitation key={each.role} invitation={each} session={session} />
        ))}
      </div>
    </>
  );
}

function Invitation({
  invitation: { role, link, qr_svg, secure, joined, until, ran_out, closed },
  session,
}: {
  invitation: InvitationView;
  session: Session;
}) {
  const name = words.role[role];
  const revoke = (members: boolean): void => session.ask({ kind: 'revoke', role, members });
  return (
    <article class="card">
      <h3>{name}</h3>
      {secure !== null && <Code {...secure} alt={words.qrOf(name)} kind={words.invitationsSecure} />}
      <Code link={link} qr_svg={qr_svg} alt={words.qrOf(name)} kind={secure === null ? null : words.invitationsPlain} />
      <p>{words.joined(joined)}</p>
      {closed && <p class="bad">{words.roleClosed}</p>}
      <p class={ran_out ? 'bad' : undefined}>{ran_out ? words.codeRanOut : words.codeUntil(dayAndTime(until))}</p>
      <button type="button" onClick={() => session.ask({ kind: 'door', ask: { what: 'role', role, open: closed } })}>
        {closed ? words.roleOpen(name) : words.roleClose(name)}
      </button>
      <Asked label={words.revoke} about={link}>
        {(close) => (
          <>
            <p>{words.revokeAsk(name)}</p>
            <button type="button" onClick={() => (revoke(false), close())}>
              {words.revokeKeep}
            </button>
            <button type="button" onClick={() => (revoke(true), close())}>
              {words.revokeCut}
            </button>
          </>
        )}
      </Asked>
    </article>
  );
}

function Code({ link, qr_svg, alt, kind }: { link: string; qr_svg: string; alt: string; kind: string | null }) {
  const whole = kind === null ? alt : `${alt}, ${kind}`;
  return (
    <>
      {kind !== null && <h4>{kind}</h4>}
      <img alt={whole} src={`data:image/svg+xml,${encodeURIComponent(qr_svg)}`} width={200} height={200} />
      <p class="link">{link}</p>
    </>
  );
}
