// The run as the desk follows it: beat, lanes, everything that happens now, what comes next; stop, release, step. In a
// count-in there is the number and what comes first; in a hold the lanes stand, with what was under way.
import type { View } from '../core/model';
import { counting, stageOf, stepped } from '../core/reading';
import type { Session } from '../core/session';
import type { Cue, RunSheet } from '../core/wire';
import { words } from '../core/words';
import { Cells } from '../ui/beats';
import { Walks } from '../ui/walks';
import { caughtBy } from './caught';
import { Held } from './held';
import { Coming, Now } from './now';
import { NewSpeed } from './speed';
import { Strip } from './strip';
import { Release, Step, Stop, type Keyed } from '../ui/powers';
import { useKey, type Deed } from './keys';
import { Key, shortcut } from './key';

/** The part of the page that shows the run. */
export function Run({ view, session }: { view: View; session: Session }) {
  const stage = stageOf(view);
  const cue = counting(view) ? (view.shown?.cue ?? null) : null;
  const hold = caughtBy(view);
  useKey('note', hold === null ? null : focusNote);
  return (
    <section class="desk-column run">
      <h2 class="unseen">{words.runTitle}</h2>
      <div class="powers">
        <Release view={view} session={session} keyed={useKeyed('release')} />
        <Step view={view} session={session} keyed={useKeyed('step')} back={useKeyed('stepBack')} />
        <Stop view={view} session={session} keyed={useKeyed('stop')} />
      </div>
      <NewSpeed view={view} session={session} />
      {cue !== null && <Count cue={cue} run={view.run} clocked={!stepped(view)} />}
      {stage !== 'places' && cue?.count_in == null && <Strip view={view} session={session} />}
      {cue !== null && cue.count_in === null && <Now cue={cue} run={view.run} />}
      {cue !== null && cue.count_in === null && <Walks cue={cue} />}
      {hold === null ? (
        stage !== 'complete' && <Coming view={view} most={stage === 'count-in' ? 1 : 3} />
      ) : (
        <Held key={hold.hold} view={view} hold={hold} session={session} />
      )}
    </section>
  );
}

function Count({ cue, run, clocked }: { cue: Cue; run: RunSheet | null; clocked: boolean }) {
  if (cue.count_in !== null) {
    return (
      <p class="count-in">
        <strong data-testid="count">{cue.count_in}</strong>
        <span class="unseen">{words.countIn(cue.count_in)}</span>
      </p>
    );
  }
  const numbers = cue.moves.map(({ move }) => move.number);
  const all = run?.moves.filter(({ phrase }) => phrase === cue.phrase).length ?? 0;
  return (
    <div class="count">
      <strong data-testid="count">{cue.count}</strong>
      {clocked && run !== null && <Cells run={run} cue={cue} part={null} />}
      <p dir="auto">
        <b>{words.bar(cue.bar)}</b>, {words.beat(cue.beat)}
        {numbers.length > 0 && `, ${words.desk.moves(numbers, all)}`}
      </p>
    </div>
  );
}

// How a button of both pages is pressed by a key of this one.
function useKeyed(deed: Deed): Keyed {
  return { shortcut: shortcut(deed), drawn: <Key of={deed} />, use: (act) => useKey(deed, act) };
}

function focusNote(): void {
  document.querySelector<HTMLInputElement>('.run .note-field')?.focus();
}
