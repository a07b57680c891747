// What a phone shows while beats count: the count, what I do now and who answers, and what comes next in how many beats.
import type { View } from '../core/model';
import { beatsToNext, comingMoves, mineFirst, stepped } from '../core/reading';
import type { Session } from '../core/session';
import type { Cue, CueMove } from '../core/wire';
import { words } from '../core/words';
import { BeatBar } from '../ui/beat-bar';
import { Move } from '../ui/parts';

/** So many moves fit on a phone at once. */
const MOST = 2;

/** The counting screen. */
export function Counting({ view, session }: { view: View; session: Session }) {
  const shown = view.shown;
  const beats = view.run?.beats_per_bar ?? 4;
  return (
    <div class="counting">
      <Count view={view} />
      {!stepped(view) && <BeatBar session={session} beats={beats} />}
      {shown === null ? <First view={view} /> : <NowAndNext cue={shown.cue} all={view.me?.role !== 'performer'} />}
    </div>
  );
}

function Count({ view }: { view: View }) {
  const shown = view.shown;
  if (shown === null) return null;
  const { cue, late_us } = shown;
  const counting = cue.count_in === null;
  return (
    <p class="count">
      <strong data-testid="count">{counting ? cue.count : cue.count_in}</strong>
      <span>{counting ? `${words.bar(cue.bar)} · ${words.beat(cue.beat)}` : words.countIn(cue.count_in ?? 0)}</span>
      {late_us !== null && <em>{words.late(Math.round(late_us / 1_000))}</em>}
    </p>
  );
}

// Before the first cue of a run: how it begins.
function First({ view }: { view: View }) {
  return (
    <section class="card">
      <h2>{words.firstMoves}</h2>
      {comingMoves(view, MOST).map((move, n) => (
        <Move key={n} move={move} />
      ))}
    </section>
  );
}

function NowAndNext({ cue, all }: { cue: Cue; all: boolean }) {
  const beats = beatsToNext(cue);
  return (
    <>
      <section class="card now" aria-label={words.now} data-mine={cue.moves.some((move) => move.part !== 'watch')}>
        <h2>{words.now}</h2>
        {cue.moves.length === 0 ? <p class="nothing">{words.nothingNow}</p> : <Moves moves={cue.moves} all={all} />}
      </section>
      <section class="card next" aria-label={words.next}>
        <h2>{beats === null ? words.next : words.nextIn(beats)}</h2>
        {cue.next.length === 0 ? <p>{words.nothingNext}</p> : <Moves moves={cue.next} all={all} />}
      </section>
    </>
  );
}

function Moves({ moves, all }: { moves: CueMove[]; all: boolean }) {
  const fitting = mineFirst(moves).slice(0, all ? 2 * MOST : MOST);
  return (
    <>
      {fitting.map(({ part, move }, n) => (
        <Move key={n} part={part} move={move} />
      ))}
    </>
  );
}
