// Everybody who fights, as a row of pegs: filled is ready (at places) or can be cued (in a run). Who lacks something is
// named.
import type { View } from '../core/model';
import { titled } from '../core/names';
import { words } from '../core/words';
import { castOf } from './cast';

/** So many pegs can be counted at a glance; of more the number is enough. */
const MOST_PEGS = 16;
/** So many are named in a sentence. */
const MOST_NAMED = 3;

/** Places: a large peg for each part, with names, and in a sentence who is not ready. */
export function ReadyPegs({ view }: { view: View }) {
  const cast = castOf(view);
  if (cast === null) return <p>{words.stageUnknown}</p>;
  const lacking = cast.filter(({ lack }) => lack !== null);
  const names = lacking.slice(0, MOST_NAMED).map(({ part, name }) => words.desk.player(titled(part), name));
  return (
    <section class="places">
      <h2 class="unseen">{words.rosterTitle}</h2>
      <ul class="pegs" data-many={cast.length > 12}>
        {cast.map(({ part, name, lack }) => (
          <li key={part} data-filled={lack === null}>
            <i class="peg" aria-hidden="true" />
            <b dir="auto">{titled(part)}</b>
            <small dir="auto">{name ?? words.rosterNone}</small>
            {lack !== null && <span class="unseen">{words.lack[lack]}</span>}
          </li>
        ))}
      </ul>
      {/* That all are ready is said with the start. */}
      <p class="lead" role="status">
        {lacking.length > 0 &&
          `${words.desk.ready(cast.length - lacking.length, cast.length)} ${words.desk.notYet(names, lacking.length - names.length)}`}
      </p>
    </section>
  );
}

/** A run: one line, a small peg for each part. */
export function CuedPegs({ view }: { view: View }) {
  const cast = castOf(view);
  if (cast === null || cast.length === 0) return null;
  const good = cast.filter(({ lack }) => lack === null);
  return (
    <p class="cued">
      {words.desk.canBeCued(good.length, cast.length)}
      {cast.length <= MOST_PEGS && (
        <span class="pegs" aria-hidden="true">
          {cast.map(({ part, lack }) => (
            <i key={part} class="peg" data-filled={lack === null} />
          ))}
        </span>
      )}
    </p>
  );
}
