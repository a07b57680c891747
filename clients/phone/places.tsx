// What a phone shows at places: say ready, who is not there yet, and how it begins.
import type { View } from '../core/model';
import { titled } from '../core/names';
import { standsBy } from '../core/near';
import { comingMoves, missing, partIn } from '../core/reading';
import { words } from '../core/words';
import { BeginAt } from '../ui/begin-at';
import { Figure } from '../ui/figure';
import { Move, NoHoldCall } from '../ui/parts';
import type { PhonePage } from './carried';
import { MyMark, TheirMarks } from './feet';
import { MyPart } from './my-part';
import { BeforeStandingBy } from './standing-by';
import { Plan } from './plan';
import { Settings } from './settings';

/** The screen at places. */
export function Places({ view, page }: { view: View; page: PhonePage }) {
  const part = view.me?.part ?? null;
  const absent = missing(view) ?? [];
  const count = view.state?.ready ?? null;
  const isBystander = view.run !== null && standsBy(view.run, part);
  const moves = comingMoves(view, view.run?.moves.length ?? 0);
  const mine = moves.filter((move) => part === null || move.who === part || move.to === part);
  return (
    <>
      {count !== null && (
        <Pegs
          ready={count.ready}
          of={count.of}
          mine={view.me?.role === 'performer' && !isBystander ? view.me.ready : null}
        />
      )}
      <BeginAt view={view} />
      <MyMark view={view} />
      <BeforeStandingBy view={view} />
      {view.me?.role === 'performer' && !isBystander && <Ready view={view} page={page} />}
      <Wanted view={view} />
      <TheirMarks view={view} />
      <NoHoldCall view={view} />
      {view.me?.role !== 'performer' && (
        <ul>
          {absent.map(({ part: fighter, name, lack }) => (
            <li key={fighter} class={lack === 'not-ready' ? undefined : 'bad'}>
              <bdi>{titled(fighter)}</bdi> {name !== null && <bdi>({name})</bdi>}: {words.lack[lack]}
            </li>
          ))}
        </ul>
      )}
      {mine.length > 0 && (
        <section class="card">
          <h2>{words.firstMoves}</h2>
          {mine.slice(0, 2).map((move, n) => (
            <div class="pictured" key={n}>
              <Move move={move} part={partIn(move, part)} />
              <Figure sheet={view.run} move={move} part={partIn(move, part)} near />
            </div>
          ))}
        </section>
      )}
      <Plan view={view} page={page} />
      <MyPart view={view} page={page} />
      <Settings view={view} page={page} />
    </>
  );
}

// A peg for each fighter, filled once they are ready; the row is read at a glance, the figure by whoever counts.
function Pegs({ ready, of, mine }: { ready: number; of: number; mine: boolean | null }) {
  const own = mine === null ? -1 : mine ? 0 : ready;
  return (
    <div class="pegs">
      <div class="row-of-pegs" aria-hidden="true">
        {Array.from({ length: of }, (_, n) => (
          <i key={n} data-ready={n < ready} data-mine={n === own} />
        ))}
      </div>
      <p class="lead">{words.whoIsReady(ready, of)}</p>
    </div>
  );
}

/** What is to be run, and with which weapons: whoever stands ready has them in hand. */
function Wanted({ view }: { view: View }) {
  const run = view.run;
  if (run === null) return null;
  const [first, last] = [run.phrases[0]?.name ?? '', run.phrases.at(-1)?.name ?? ''];
  return (
    <p class="lead" dir="auto">
      {words.toRun(run.fight, first, last)}
      {run.weapons !== null && (
        <>
          {' '}
          <b>{words.withWeapons(run.weapons)}</b>
        </>
      )}
    </p>
  );
}

function Ready({ view, page }: { view: View; page: PhonePage }) {
  const ready = view.me?.ready ?? false;
  return (
    <button
      type="button"
      class="main ready"
      aria-pressed={ready}
      data-starts
      onClick={() => page.session.ask({ kind: 'ready', ready: !ready, generation: view.generation })}
    >
      {ready ? `✓ ${words.readySaid}` : words.ready}
      <small>{ready ? words.readyTakeBack : words.readyHint}</small>
    </button>
  );
}
