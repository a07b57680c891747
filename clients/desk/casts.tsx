// Who plays tonight, fight by fight, before the first places: who is absent, who covers, and one touch for each. A part has
// one player, and nobody plays two parts in one fight: the server says so, in words.
import type { View } from '../core/model';
import { titled } from '../core/names';
import type { Session } from '../core/session';
import { castsInOrder, openParts } from '../core/ordering';
import type { FightCastView, MemberView, PartCastView } from '../core/wire';
import { words } from '../core/words/ordering';
import './tonight.css';

interface Props {
  view: View;
  session: Session;
}

/** The casts: what is open first. */
export function Casts({ view, session }: Props) {
  const drills = new Set((view.fights ?? []).filter(({ drill }) => drill).map(({ fight }) => fight));
  const casts = castsInOrder(view.tonight?.items ?? [], view.casts ?? [], drills);
  if (casts.length === 0) return null;
  const open = openParts(casts);
  const away = new Set((view.attendance ?? []).filter(({ present }) => !present).map(({ person }) => person));
  const performers = (view.roster ?? []).filter(({ role }) => role === 'performer');
  return (
    <div class="casts">
      <Open casts={casts} open={open} performers={performers} away={away} session={session} />
      <p class="hint">{words.ordering.castHint}</p>
      {casts.map((cast) => (
        <div key={cast.fight} role="group" aria-label={cast.fight}>
          <h3 dir="auto">{cast.fight}</h3>
          <ul class="checklist">
            {cast.parts.map((part) => (
              <Part key={part.part} cast={cast} part={part} performers={performers} away={away} session={session} />
            ))}
          </ul>
        </div>
      ))}
    </div>
  );
}

// What is open, with whoever covers it by the production's list: one touch puts them on in every fight in which it is open
// and in which they play nothing else.
function Open(props: {
  casts: FightCastView[];
  open: Map<string, string[]>;
  performers: MemberView[];
  away: Set<string>;
  session: Session;
}) {
  const { casts, open, performers, away, session } = props;
  const rows = [...open].map(([part, fights]) => {
    const view = casts.flatMap(({ parts }) => parts).find((each) => each.part === part && each.member === null);
    const covers = (view?.covers ?? []).filter((name) => !away.has(name));
    const here = covers.flatMap((name) => performers.filter((each) => each.name === name));
    return { part, fights, usually: view?.usually ?? null, here };
  });
  return (
    <ul class="checklist">
      {rows.map(({ part, fights, usually, here }) => (
        <li key={part}>
          <span>
            <b class="bad">{words.tonight.nobodyPlays([titled(part)])}</b>
            {usually !== null && ` (${words.ordering.isAway(usually)})`}
            {here.length === 0 && <small>{words.ordering.nobodyCovers}</small>}
          </span>
          {here.map(({ member, name }) => {
            const free = fights.filter((fight) =>
              casts.some((cast) => cast.fight === fight && cast.parts.every((each) => each.member !== member)),
            );
            if (free.length === 0) return null;
            return (
              <button
                key={member}
                type="button"
                onClick={() => free.forEach((fight) => session.ask({ kind: 'cast', fight, part, member }))}
              >
                {words.ordering.putOn(name, titled(part), free.length)}
              </button>
            );
          })}
        </li>
      ))}
    </ul>
  );
}

function Part(props: {
  cast: FightCastView;
  part: PartCastView;
  performers: MemberView[];
  away: Set<string>;
  session: Session;
}) {
  const { cast, part, performers, away, session } = props;
  const busy = new Map(cast.parts.flatMap((each) => (each.member === null ? [] : [[each.member, each.part]])));
  const rank = ({ name }: MemberView): number => (part.covers.includes(name) ? part.covers.indexOf(name) : 99);
  const usual = part.chosen ? null : part.person;
  const said = ({ member, name }: MemberView): string => {
    const other = busy.get(member);
    const more = away.has(name)
      ? words.ordering.away
      : other !== undefined && other !== part.part
        ? titled(String(other))
        : part.covers.includes(name)
          ? words.ordering.covers
          : null;
    return more === null ? name : `${name} (${more})`;
  };
  return (
    <li data-open={part.member === null}>
      <span>
        <b>{titled(part.part)}</b>
        {part.stands_by && <small>{words.ordering.standsBy}</small>}
        {part.usually !== null && (
          <small>
            {part.member === null ? words.ordering.isAway(part.usually) : words.ordering.usually(part.usually)}
          </small>
        )}
      </span>
      <select
        aria-label={words.ordering.plays(titled(part.part), cast.fight)}
        value={part.chosen ? String(part.member) : ''}
        onChange={(event) => {
          const chosen = event.currentTarget.value;
          const member = chosen === '' ? null : Number(chosen);
          session.ask({ kind: 'cast', fight: cast.fight, part: part.part, member });
          // Until the server has said so it is as it was.
          event.currentTarget.value = part.chosen ? String(part.member) : '';
        }}
      >
        <option value="">{words.ordering.asUsual(usual)}</option>
        {[...performers]
          .sort((one, other) => rank(one) - rank(other) || one.member - other.member)
          .map((each) => (
            <option key={each.member} value={String(each.member)} disabled={away.has(each.name)}>
              {said(each)}
            </option>
          ))}
      </select>
    </li>
  );
}
