// What is to be run, and getting it under way: choose, call places, see who is missing, start.
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { View } from '../core/model';
import { titled } from '../core/names';
import { lastHold, missing, stageOf, unsigned } from '../core/reading';
import type { Session } from '../core/session';
import type { FightChoice, Setup } from '../core/wire';
import { words } from '../core/words';
import { BeginAt } from '../ui/begin-at';
import { Fold, Later } from '../ui/later';
import { Asked, NoHoldCall } from '../ui/parts';
import { useKey } from './keys';
import { Key, shortcut } from './key';
import { Next } from './next';
import { SetupForm } from './setup-form';
import { foundIn, lastAtFirst } from './found';
import { LEAST_PERCENT, MOST_PERCENT, SPEED_STEP } from './speed';

interface Props {
  view: View;
  session: Session;
}

/** The column that drives the call. */
export function Call({ view, session, personalKey }: Props & { personalKey: string }) {
  const stage = stageOf(view);
  const fights = view.fights ?? [];
  const [first] = fights;
  const [draft, setDraft] = useState<Setup | null>(null);
  const setup = draft ?? view.state?.setup ?? (first === undefined ? null : usual(first));
  const still = stage !== 'count-in' && stage !== 'running' && stage !== 'held';
  const places = (chosen: Setup): void => {
    if (view.state === null) return;
    session.ask({ kind: 'places', setup: chosen, seen: view.state.last_event });
    setDraft(null);
  };
  const over = stage === null || still;
  // With an order its next item is the usual wish, and what is chosen here another.
  const ordered = (view.tonight?.items.length ?? 0) > 0;
  const usualWish = stage !== 'places' && !(view.tonight?.items ?? []).some(({ stands }) => stands === 'to-do');
  useKey('places', setup !== null && still ? () => places(setup) : null);
  useSetupKeys(fights, setup, still && stage !== null, setDraft);
  // While something goes, or is held, nothing is chosen: what is to be done stands with the run.
  if (!over) return null;
  const said = leadOf(view);
  return (
    <section class="desk-column call">
      <h2 class="unseen">{words.callTitle}</h2>
      {said !== null && (
        <p class="lead" lang={said === view.state?.because ? 'en' : undefined}>
          {said}
        </p>
      )}
      {stage === 'places' && <NoHoldCall view={view} />}
      {stage === 'places' && <BeginAt view={view} />}
      {stage === 'places' && <Start view={view} session={session} />}
      {stage === 'stopped' && <FromLastHold view={view} places={places} />}
      {stage !== 'places' && <Next view={view} session={session} main={stage !== 'stopped'} />}
      {stage !== 'places' && (
        <Fold class="whole-order" summary={words.wholeOrder} load={() => import('./ordering')}>
          {({ Ordering }) => <Ordering view={view} session={session} chosen={setup} personalKey={personalKey} />}
        </Fold>
      )}
      {setup === null ? (
        <p>{view.fights === null ? words.stageUnknown : words.noFights}</p>
      ) : (
        still && (
          <Choice summary={stage === 'places' ? words.changeRun : ordered ? words.somethingElse : null}>
            <SetupForm fights={fights} setup={setup} change={setDraft} personalKey={personalKey} />
            <button
              type="button"
              class={usualWish ? 'main' : undefined}
              data-starts
              aria-keyshortcuts={shortcut('places')}
              onClick={() => places(setup)}
            >
              {stage === 'places' ? words.placesAgain : words.callPlaces} <Key of="places" />
            </button>
          </Choice>
        )
      )}
      {over && <EndCall view={view} session={session} />}
    </section>
  );
}

// What comes next. Where a run stopped, and why, stands above; who is not ready stands with the pegs.
function leadOf(view: View): string | null {
  const stage = stageOf(view);
  if (stage === null) return words.stageUnknown;
  return stage === 'places'
    ? null
    : stage === 'idle'
      ? (view.state?.because ?? words.stageNextDesk.idle)
      : words.stageNextDesk[stage];
}

// Not within reach while something runs or is held.
function EndCall({ view, session }: Props) {
  return (
    <Asked label={words.endCall}>
      {(close) => (
        <>
          <p>{words.endCallAsk}</p>
          <Later load={() => import('./end-signed')}>
            {({ EndSigned }) => <EndSigned view={view} session={session} close={close} />}
          </Later>
        </>
      )}
    </Asked>
  );
}

// While places are called, and where an order says what is next, another choice is out of the way until it is asked for.
function Choice({ summary, children }: { summary: string | null; children: ComponentChildren }) {
  const [open, setOpen] = useState(false);
  if (summary === null) return <>{children}</>;
  return (
    <details open={open} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{summary}</summary>
      {open && children}
    </details>
  );
}

/** How a fight is usually run first: the whole of it, at half speed, with a bar of count-in. */
function usual(fight: FightChoice): Setup {
  return {
    fight: fight.fight,
    weapons: null,
    from: 0,
    from_move: null,
    to: lastAtFirst(fight),
    percent: 50,
    count_in: fight.count_in,
    drive: 'clock',
  };
}

// After a hold or stop the usual wish is the phrase that broke, or the very move: one touch each.
function FromLastHold({ view, places }: { view: View; places(setup: Setup): void }) {
  const spot = lastHold(view)?.spot ?? view.state?.spot ?? null;
  const setup = view.state?.setup ?? null;
  const fits = spot !== null && setup !== null && spot.phrase >= setup.from && spot.phrase <= setup.to;
  const again = fits ? () => places({ ...setup, from: spot.phrase, from_move: null }) : null;
  const number = spot?.move ?? 1;
  const atMove = fits && number > 1 ? () => places({ ...setup, from: spot.phrase, from_move: number }) : null;
  useKey('restart', again);
  useKey('restartMove', atMove);
  if (!fits || again === null) return null;
  return (
    <>
      <button type="button" class="main" data-starts aria-keyshortcuts={shortcut('restart')} onClick={again}>
        <span dir="auto">{words.callPlacesFrom(spot.phrase_name)}</span> <Key of="restart" />
      </button>
      {atMove !== null && (
        <button type="button" data-starts aria-keyshortcuts={shortcut('restartMove')} onClick={atMove}>
          <span dir="auto">{words.callPlacesFromMove(number, spot.words ?? '')}</span> <Key of="restartMove" />
        </button>
      )}
    </>
  );
}

function Start({ view, session }: Props) {
  const absent = missing(view);
  const errors = errorsOfClockedFight(view);
  const checks = unsigned(view);
  const known = absent !== null && view.checks !== null && view.fights !== null;
  const start = (anyway: boolean): void => {
    if (view.state === null) return;
    session.ask({ kind: 'start', generation: view.generation, anyway, seen: view.state.last_event });
  };
  const label = view.state?.setup?.drive === 'step' ? words.startStep : words.start;
  const able = known && absent.length === 0 && errors === 0 && checks.length === 0;
  // With somebody missing the key only opens the question.
  useKey('start', able ? () => start(false) : null);
  // What is not known yet is told in a moment; until then there is nothing to press.
  if (!known) return <p>{words.stageUnknown}</p>;
  if (able) {
    return (
      <div class="start">
        <p>{words.allThere}</p>
        <button
          type="button"
          class="main"
          data-starts
          aria-keyshortcuts={shortcut('start')}
          onClick={() => start(false)}
        >
          {label} <Key of="start" />
        </button>
      </div>
    );
  }
  const keyed = {
    shortcut: shortcut('start'),
    drawn: <Key of="start" />,
    use: (open: () => void) => useKey('start', open),
  };
  const list = (
    <ul>
      {absent.map(({ part, name, lack }) => (
        <li key={part}>
          <b>{titled(part)}</b> {name !== null && <bdi>({name})</bdi>}: {words.lack[lack]}
        </li>
      ))}
      {errors > 0 && <li>{words.errorsFound(errors)}</li>}
      {checks.map((check) => (
        <li key={check}>{check}</li>
      ))}
    </ul>
  );
  return (
    <div class="start">
      <p>{words.startAnywayAsk}</p>
      {list}
      <Asked
        label={words.startAnyway}
        keyed={keyed}
        about={`${absent.map(({ part, lack }) => part + lack).join()} ${errors} ${checks.join()}`}
      >
        {(close) => (
          <button type="button" class="main" data-starts onClick={() => (start(true), close())}>
            {words.startAnywaySure}
          </button>
        )}
      </Asked>
    </div>
  );
}

/** Errors of the checks count when the clock drives; a walk-through is how they are looked at. */
function errorsOfClockedFight(view: View): number {
  const setup = view.state?.setup;
  if (setup == null || setup.drive === 'step') return 0;
  const fight = view.fights?.find((each) => each.fight === setup.fight);
  return fight === undefined ? 0 : foundIn(fight, setup.weapons).errors;
}

/** The keys that change what is chosen, while nothing runs. */
function useSetupKeys(fights: FightChoice[], setup: Setup | null, on: boolean, change: (setup: Setup) => void): void {
  const last = (fights.find((fight) => fight.fight === setup?.fight)?.phrases.length ?? 1) - 1;
  const by = (alter: (setup: Setup) => Partial<Setup>) =>
    setup === null || !on ? null : () => change({ ...setup, ...alter(setup) });
  const from = (step: number) => (now: Setup) => {
    const phrase = Math.min(last, Math.max(0, now.from + step));
    return { from: phrase, from_move: null, to: Math.max(phrase, now.to) };
  };
  const to = (step: number) => (now: Setup) => {
    const phrase = Math.min(last, Math.max(0, now.to + step));
    const from = Math.min(phrase, now.from);
    return { to: phrase, from, from_move: from === now.from ? now.from_move : null };
  };
  const speed = (step: number) => (now: Setup) => ({
    percent: Math.min(MOST_PERCENT, Math.max(LEAST_PERCENT, now.percent + step)),
  });
  useKey('fromBack', by(from(-1)));
  useKey('fromOn', by(from(1)));
  useKey('toBack', by(to(-1)));
  useKey('toOn', by(to(1)));
  useKey('slower', by(speed(-SPEED_STEP)));
  useKey('faster', by(speed(SPEED_STEP)));
}
