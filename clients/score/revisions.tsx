// The revisions of a score: who saved it, when and why; and one of them, to be read.
import { useEffect, useRef } from 'preact/hooks';
import type { RevisionView } from '../core/wire';
import { words } from '../core/words/score';
import { Compared } from './compared';
import type { Studio } from './studio';

/** The list, newest first. */
export function Revisions({ studio }: { studio: Studio }) {
  const revisions = studio.revisions.value;
  return (
    <section class="revisions">
      <h2>{words.score.revisionsTitle}</h2>
      {revisions !== null && revisions.length === 0 && <p>{words.score.revisionsNone}</p>}
      <ol>
        {(revisions ?? []).map((revision, n) => (
          <li key={n}>
            <button type="button" onClick={() => void studio.look(revision.revision)}>
              <span>
                <b>{when(revision.utc)}</b> {revision.who ?? words.score.revisionHow.found}
                {revision.in_use && ` · ${words.score.inUse}`}
                {revision.how !== 'saved' && revision.who !== null && ` · ${words.score.revisionHow[revision.how]}`}
              </span>
              {revision.why !== null && <span>{revision.why}</span>}
              <small>{revision.revision.slice(0, 12)}</small>
            </button>
          </li>
        ))}
      </ol>
    </section>
  );
}

/** An older text, with what was changed since: beside the draft, or beside another revision. */
export function Old({ studio }: { studio: Studio }) {
  const old = studio.old.value;
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), [old]);
  if (old === null) return null;
  const revisions = studio.revisions.value ?? [];
  const known = revisions.find((each) => each.revision === old.revision);
  const others = revisions.filter((each) => each.revision !== old.revision);
  return (
    <section class="old">
      <h2 tabIndex={-1} ref={heading}>
        {words.score.oldTitle(known === undefined ? '' : when(known.utc))} {told(known)}
      </h2>
      <label>
        {words.score.beside}
        <select
          value={studio.beside.value ?? ''}
          onChange={({ currentTarget: { value } }) => void studio.compareWith(value === '' ? null : value)}
        >
          <option value="">{words.score.besideDraft}</option>
          {others.map((each, n) => (
            <option key={n} value={each.revision}>
              {[when(each.utc), each.who ?? words.score.revisionHow.found, each.why]
                .filter((part) => part !== null)
                .join(' · ')}
            </option>
          ))}
        </select>
      </label>
      <Compared rows={studio.compared.value} />
      <div class="choices">
        {studio.mayWrite && (
          <button
            type="button"
            onClick={() => {
              studio.replace(old.text.replaceAll('\r\n', '\n'), 0);
              studio.closeOld();
            }}
          >
            {words.score.oldTake}
          </button>
        )}
        <button type="button" onClick={() => studio.closeOld()}>
          {words.score.oldClose}
        </button>
      </div>
    </section>
  );
}

function told(revision: RevisionView | undefined): string {
  return [revision?.who, revision?.why].filter((part) => part != null).join(': ');
}

/** A time as the person's own machine writes it. */
export function when(utc: string): string {
  const time = new Date(utc);
  return Number.isNaN(time.getTime()) ? utc : time.toLocaleString([], { dateStyle: 'short', timeStyle: 'short' });
}
