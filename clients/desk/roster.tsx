// Everybody: part, ready, link, in sight, clock, how late cues came out. Words as well as marks, never colour alone.
import { useState } from 'preact/hooks';
import type { View } from '../core/model';
import { counting, stageOf } from '../core/reading';
import type { Session } from '../core/session';
import { milliseconds } from '../core/vitals';
import type { DeviceView, MemberView } from '../core/wire';
import { words } from '../core/words';
import { Later } from '../ui/later';

/** A screen with room for everybody at any time: there nothing is folded away. */
const ROOMY = matchMedia('(min-width: 2400px)');

/** The roster: open while parts are given and places taken, behind a fold while nobody needs it. */
export function People({ view, session }: { view: View; session: Session }) {
  const stage = stageOf(view);
  if (stage === 'idle' || stage === 'places' || view.roster === null) return <Roster view={view} session={session} />;
  return (
    <details class="people" open={ROOMY.matches}>
      <summary>{words.desk.everybody(view.roster.filter(({ link }) => link === 'linked').length)}</summary>
      <Roster view={view} session={session} />
    </details>
  );
}

function Roster({ view, session }: { view: View; session: Session }) {
  const fighters = view.run?.fighters ?? [];
  const roster = ordered(rowsOf(view), fighters);
  const fixed = counting(view);
  const fights = view.fights ?? [];
  const fight = fights.find((each) => each.fight === view.state?.setup?.fight) ?? fights[0];
  return (
    <section>
      <h2>{words.rosterTitle}</h2>
      {view.roster?.length === 0 && <p>{words.rosterEmpty}</p>}
      {!fixed && roster.some(({ claims }) => claims !== null) && (
        <Later load={() => import('./same')}>{({ SameAll }) => <SameAll roster={roster} session={session} />}</Later>
      )}
      {roster.length > 0 && (
        <div class="scroll" role="region" aria-label={words.rosterTitle} tabIndex={0}>
          <table>
            <thead>
              <tr>
                {words.rosterColumns.map((column) => (
                  <th key={column} scope="col">
                    {column}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              {roster.map((row) => (
                <Row
                  key={row.member}
                  row={row}
                  me={view.me?.member ?? null}
                  claimed={roster.find(({ member }) => member === row.claims)?.name ?? null}
                  fighters={fight === undefined ? [] : [...fight.fighters, ...fight.bystanders]}
                  fixed={fixed}
                  session={session}
                />
              ))}
            </tbody>
          </table>
        </div>
      )}
    </section>
  );
}

/** A member with how their page is. */
type RosterRow = MemberView & DeviceView;

// A page that nothing is known of yet counts as in sight, as it does for the server.
function rowsOf(view: View): RosterRow[] {
  const devices = new Map((view.devices ?? []).map((device) => [device.member, device]));
  return (view.roster ?? []).map((row) => ({
    visible: true,
    bound_us: null,
    late_us: null,
    ...devices.get(row.member),
    ...row,
  }));
}

// Who fights and is not well comes first, so that it is seen without looking for it; then who fights, then who else is
// here, as they came. Who is gone and has no part here is nobody's trouble, and comes last.
function ordered(roster: RosterRow[], fighters: string[]): RosterRow[] {
  const rank = (row: RosterRow): number => {
    const fights = row.part !== null && (fighters.length === 0 || fighters.includes(row.part));
    if (row.claims !== null) return 0;
    if (row.link === 'lost') return fights ? 1 : 5;
    if (!row.visible) return fights ? 2 : 4;
    return fights ? 3 : 4;
  };
  return [...roster].sort((one, other) => rank(one) - rank(other) || one.member - other.member);
}

interface RowProps {
  row: RosterRow;
  me: number | null;
  /** Whose name they gave, while it is to be said whether they are that person. */
  claimed: string | null;
  fighters: string[];
  fixed: boolean;
  session: Session;
}

function Row(props: RowProps) {
  const { row, me, claimed, fighters, fixed, session } = props;
  const [open, setOpen] = useState(false);
  return (
    <>
      <tr data-link={row.link} data-ready={row.ready}>
        <th scope="row">
          {row.member === me ? (
            <bdi>{row.name}</bdi>
          ) : (
            <button
              type="button"
              class="more"
              aria-expanded={open}
              aria-label={words.aboutOf(row.name)}
              onClick={() => setOpen(!open)}
            >
              <bdi>{row.name}</bdi>
            </button>
          )}{' '}
          <small>{words.role[row.role]}</small>
        </th>
        <td>
          <PartCell row={row} fighters={fighters} fixed={fixed} session={session} />
        </td>
        <td>
          {row.role === 'performer' ? (
            <Mark good={row.ready} yes={words.rosterReady} no={words.rosterNotReady} />
          ) : (
            words.rosterNone
          )}
        </td>
        <td>
          <LinkOf row={row} />
        </td>
        <td>{row.bound_us === null ? words.rosterNone : milliseconds(row.bound_us)}</td>
        <td>{row.late_us === null ? words.rosterNone : milliseconds(row.late_us)}</td>
      </tr>
      {claimed !== null && !fixed && (
        <tr>
          <td colSpan={words.rosterColumns.length}>
            <Later load={() => import('./same')}>
              {({ Same }) => <Same row={row} name={claimed} session={session} />}
            </Later>
          </td>
        </tr>
      )}
      {open && (
        <tr>
          <td colSpan={words.rosterColumns.length}>
            <Later load={() => import('./about')}>
              {({ About }) => <About row={row} session={session} close={() => setOpen(false)} />}
            </Later>
          </td>
        </tr>
      )}
    </>
  );
}

// A page that is linked but out of sight cannot be cued: its timers cannot be trusted.
function LinkOf({ row }: { row: RosterRow }) {
  if (row.link === 'lost') return <Mark good={false} yes={words.linked} no={words.noLink} />;
  return <Mark good={row.visible} yes={words.linked} no={words.hidden} />;
}

function Mark({ good, yes, no }: { good: boolean; yes: string; no: string }) {
  return <span class={good ? 'good' : 'bad'}>{good ? `✓ ${yes}` : no}</span>;
}

// Parts stay as they are while a run goes, so there is nothing to choose then.
function PartCell({ row, fighters, fixed, session }: Omit<RowProps, 'me' | 'claimed'>) {
  if (row.role !== 'performer') return <>{words.rosterNone}</>;
  if (fixed) return <bdi>{row.part ?? words.rosterNone}</bdi>;
  return <PartOf row={row} fighters={fighters} session={session} />;
}

function PartOf({ row, fighters, session }: { row: RosterRow; fighters: string[]; session: Session }) {
  return (
    <select
      aria-label={words.partOf(row.name)}
      value={row.part ?? ''}
      onChange={(event) => {
        const part = event.currentTarget.value;
        session.ask({ kind: 'take-part', member: row.member, part: part === '' ? null : part });
      }}
    >
      <option value="">{words.rosterNone}</option>
      {row.part !== null && !fighters.includes(row.part) && <option>{row.part}</option>}
      {fighters.map((fighter) => (
        <option key={fighter}>{fighter}</option>
      ))}
    </select>
  );
}
