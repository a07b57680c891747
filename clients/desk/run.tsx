// The run as the desk follows it: beat, move, next three; stop, release, step.
import type { View } from '../core/model';
import { comingMoves, counting, stageOf, stepped } from '../core/reading';
import type { Session } from '../core/session';
import { words } from '../core/words';
import { BeatBar } from '../ui/beat-bar';
import { Move } from '../ui/parts';
import { OneHold } from './holds';
import { Release, Step, Stop } from '../ui/powers';

/** The column that shows the run. */
export function Run({ view, session }: { view: View; session: Session }) {
  const stage = stageOf(view);
  const cue = counting(view) ? (view.shown?.cue ?? null) : null;
  const hold = stage === 'held' ? (view.state?.hold ?? null) : null;
  const beats = view.run?.beats_per_bar ?? 4;
  return (
    <section class="desk-column run">
      <h2>{words.runTitle}</h2>
      <div class="powers">
        <Release view={view} session={session} />
        <Step view={view} session={session} />
        <Stop view={view} session={session} />
      </div>
      {hold !== null && <OneHold hold={hold} session={session} />}
      {view.run === null && <p>{words.runNone}</p>}
      {cue !== null && (
        <p class="count">
          <strong data-testid="count">{cue.count_in ?? cue.count}</strong>
          <span>{cue.count_in !== null ? words.countIn(cue.count_in) : words.spot(cue.phrase_name, cue.beat)}</span>
        </p>
      )}
      {counting(view) && !stepped(view) && <BeatBar session={session} beats={beats} />}
      {cue !== null && (
        <div class="card now" aria-label={words.now} role="group">
          <h3>{words.now}</h3>
          {cue.moves.length === 0 && <p class="nothing">{words.nothingNow}</p>}
          {cue.moves.map(({ move }, n) => (
            <Move key={n} move={move} />
          ))}
        </div>
      )}
      {hold === null && <Coming view={view} />}
    </section>
  );
}

function Coming({ view }: { view: View }) {
  if (view.run === null) return null;
  const moves = comingMoves(view, 3);
  return (
    <div class="card next">
      <h3>{view.shown === null ? words.firstMoves : words.nextThree}</h3>
      {moves.length === 0 && <p>{words.lastMove}</p>}
      <ol>
        {moves.map((move, n) => (
          <li key={n}>
            <Move move={move} />
            <small>{words.beat(move.beat)}</small>
          </li>
        ))}
      </ol>
    </div>
  );
}
