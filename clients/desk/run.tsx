// The run as the desk follows it: beat, move, next three; stop, release, step.
import type { View } from '../core/model';
import { comingMoves, counting, lastHold, recordOf, stageOf, stepped } from '../core/reading';
import type { Session } from '../core/session';
import { words } from '../core/words';
import { BeatBar } from '../ui/beat-bar';
import { Figure } from '../ui/figure';
import { Move } from '../ui/parts';
import { OneHold } from './holds';
import { Release, Step, Stop, type Keyed } from '../ui/powers';
import { useKey, type Deed } from './keys';
import { Key, shortcut } from './keys-panel';

/** The column that shows the run. */
export function Run({ view, session }: { view: View; session: Session }) {
  const stage = stageOf(view);
  const cue = counting(view) ? (view.shown?.cue ?? null) : null;
  // The hold that stands, and after it is let go the last one of this call, so that a note in hand stays in hand.
  const hold = stage === 'held' || stage === 'stopped' ? lastHold(view) : null;
  useKey('note', hold === null ? null : focusNote);
  return (
    <section class="desk-column run">
      <h2>{words.runTitle}</h2>
      <div class="powers">
        <Release view={view} session={session} keyed={useKeyed('release')} />
        <Step view={view} session={session} keyed={useKeyed('step')} back={useKeyed('stepBack')} />
        <Stop view={view} session={session} keyed={useKeyed('stop')} />
      </div>
      {view.run === null && <p>{words.runNone}</p>}
      {cue !== null && (
        <p class="count">
          <strong data-testid="count">{cue.count_in ?? cue.count}</strong>
          <span dir="auto">
            {cue.count_in !== null ? words.countIn(cue.count_in) : words.spot(cue.phrase_name, cue.beat)}
          </span>
          {!stepped(view) && <BeatBar session={session} beats={view.run?.beats_per_bar ?? 4} />}
        </p>
      )}
      {cue !== null && (
        <div class="card now" aria-label={words.now} role="group">
          <h3>{words.now}</h3>
          {cue.moves.length === 0 && <p class="nothing">{words.nothingNow}</p>}
          {cue.moves.map(({ move }, n) => (
            <div class="pictured" key={n}>
              <Move move={move} />
              <Figure sheet={view.run} move={move} />
            </div>
          ))}
        </div>
      )}
      {hold === null ? (
        <Coming view={view} />
      ) : (
        <OneHold key={hold.hold} hold={hold} record={recordOf(view, hold)} session={session} />
      )}
    </section>
  );
}

// How a button of both pages is pressed by a key of this one.
function useKeyed(deed: Deed): Keyed {
  return { shortcut: shortcut(deed), drawn: <Key of={deed} />, use: (act) => useKey(deed, act) };
}

function focusNote(): void {
  document.querySelector<HTMLInputElement>('.run .note-field')?.focus();
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
            <small>{words.beat(move.beat)}</small>
            <div class="pictured">
              <Move move={move} />
              <Figure sheet={view.run} move={move} near />
            </div>
          </li>
        ))}
      </ol>
    </div>
  );
}
