// What is to be run, and getting it under way: choose, call places, see who is missing, start.
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { View } from '../core/model';
import { lastHold, missing, stageOf, unsigned } from '../core/reading';
import type { Session } from '../core/session';
import type { FightChoice, Setup } from '../core/wire';
import { words } from '../core/words';
import { Asked } from '../ui/parts';
import { EndSigned } from './checks';
import { SetupForm } from './setup-form';

interface Props {
  view: View;
  session: Session;
}

/** The column that drives the call. */
export function Call({ view, session }: Props) {
  const stage = stageOf(view);
  const fights = view.state?.fights ?? [];
  const [first] = fights;
  const [draft, setDraft] = useState<Setup | null>(null);
  const setup = draft ?? view.state?.setup ?? (first === undefined ? null : usual(first));
  const still = stage !== 'count-in' && stage !== 'running' && stage !== 'held';
  const places = (chosen: Setup): void => {
    session.ask({ kind: 'places', ...chosen });
    setDraft(null);
  };
  return (
    <section class="desk-column">
      <h2>{words.callTitle}</h2>
      <p class="lead">{stage === null ? words.stageUnknown : words.stageNextDesk[stage]}</p>
      {view.state?.because != null && <p>{view.state.because}</p>}
      {stage === 'places' && <Start view={view} session={session} />}
      {stage === 'stopped' && <FromLastHold view={view} places={places} />}
      {setup === null ? (
        <p>{words.noFights}</p>
      ) : (
        still && (
          <Choice folded={stage === 'places'}>
            <SetupForm fights={fights} setup={setup} change={setDraft} />
            <button
              type="button"
              class={stage === 'places' ? undefined : 'main'}
              data-starts
              onClick={() => places(setup)}
            >
              {stage === 'places' ? words.placesAgain : words.callPlaces}
            </button>
          </Choice>
        )
      )}
      {(stage === 'count-in' || stage === 'running') && <NewSpeed view={view} session={session} />}
      <Asked label={words.endCall}>
        {(close) => (
          <>
            <p>{words.endCallAsk}</p>
            <EndSigned view={view} session={session} close={close} />
          </>
        )}
      </Asked>
    </section>
  );
}

// While places are called, another choice is out of the way until it is asked for.
function Choice({ folded, children }: { folded: boolean; children: ComponentChildren }) {
  if (!folded) return <>{children}</>;
  return (
    <details>
      <summary>{words.changeRun}</summary>
      {children}
    </details>
  );
}

/** How a fight is usually run first: the whole of it, at half speed, with a bar of count-in. */
function usual(fight: FightChoice): Setup {
  return {
    fight: fight.fight,
    from: 0,
    to: Math.max(0, fight.phrases.length - 1),
    percent: 50,
    count_in: fight.count_in,
    drive: 'clock',
  };
}

// After a hold the usual wish is the phrase that broke: offered first.
function FromLastHold({ view, places }: { view: View; places(setup: Setup): void }) {
  const spot = lastHold(view)?.spot ?? view.state?.spot ?? null;
  const setup = view.state?.setup ?? null;
  if (spot === null || setup === null || spot.phrase < setup.from || spot.phrase > setup.to) return null;
  return (
    <button type="button" class="main" data-starts onClick={() => places({ ...setup, from: spot.phrase })}>
      {words.callPlacesFrom(spot.phrase_name)}
    </button>
  );
}

function Start({ view, session }: Props) {
  const absent = missing(view);
  const errors = errorsOfClockedFight(view);
  const checks = unsigned(view);
  const start = (anyway: boolean): void => session.ask({ kind: 'start', generation: view.generation, anyway });
  const label = view.state?.setup?.drive === 'step' ? words.startStep : words.start;
  if (absent.length === 0 && errors === 0 && checks.length === 0) {
    return (
      <div class="start">
        <p>{words.allThere}</p>
        <button type="button" class="main" data-starts onClick={() => start(false)}>
          {label}
        </button>
      </div>
    );
  }
  const list = (
    <ul>
      {absent.map(({ part, name, lack }) => (
        <li key={part}>
          <b>{part}</b> {name !== null && `(${name})`}: {words.lack[lack]}
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
  return view.state?.fights.find((fight) => fight.fight === setup.fight)?.errors ?? 0;
}

function NewSpeed({ view, session }: Props) {
  const [percent, setPercent] = useState(view.state?.setup?.percent ?? 50);
  if (view.state?.setup?.drive === 'step') return null;
  return (
    <form
      class="row"
      onSubmit={(event) => {
        event.preventDefault();
        session.ask({ kind: 'speed', percent });
      }}
    >
      <label>
        {words.newSpeed}
        <input
          type="number"
          min={10}
          max={150}
          step={1}
          value={percent}
          onInput={(event) => setPercent(Math.round(event.currentTarget.valueAsNumber) || 0)}
        />
      </label>
      <button type="submit">{words.setSpeed}</button>
    </form>
  );
}
