// What a phone shows while beats count: the count, what I do now and who answers, and what comes next in how many beats.
import type { RefObject } from 'preact';
import type { View } from '../core/model';
import { beatsToNext, comingMoves, mineFirst, partIn, stepped } from '../core/reading';
import type { Session } from '../core/session';
import type { Cue, CueMove } from '../core/wire';
import { words } from '../core/words';
import { BeatBar } from '../ui/beat-bar';
import { Figure } from '../ui/figure';
import { useFit } from '../ui/fit';
import { Move } from '../ui/parts';
import { Stop } from '../ui/powers';

/** So many moves fit on a phone at once. */
const MOST = 2;

/** The counting screen. It has a fixed frame, so that nothing jumps when the words change. */
export function Counting({ view, session }: { view: View; session: Session }) {
  const shown = view.shown;
  const all = view.me?.role !== 'performer';
  return (
    <div class="counting">
      <Count view={view} session={session} />
      {shown === null ? <First view={view} /> : <NowAndNext view={view} cue={shown.cue} all={all} />}
    </div>
  );
}

// The count, where the bar stands, and a bar that moves: the eye catches the movement from the side.
function Count({ view, session }: { view: View; session: Session }) {
  const shown = view.shown;
  const beats = view.run?.beats_per_bar ?? 4;
  const cue = shown?.cue ?? null;
  const late = shown?.late_us ?? null;
  return (
    <div class="tally">
      {cue !== null && <strong data-testid="count">{cue.count_in ?? cue.count}</strong>}
      <div>
        {cue !== null && (
          <p>
            {cue.count_in === null ? `${words.bar(cue.bar)} · ${words.beat(cue.beat)}` : words.countIn(cue.count_in)}
            {late !== null && <em> {words.late(Math.ceil(late / 1_000))}</em>}
          </p>
        )}
        {!stepped(view) && <BeatBar session={session} beats={beats} />}
      </div>
      {view.me?.role === 'captain' && <Stop view={view} session={session} />}
    </div>
  );
}

// Before the first cue of a run: how it begins.
function First({ view }: { view: View }) {
  const part = view.me?.part ?? null;
  const moves = comingMoves(view, MOST).map((move) => ({ move, part: partIn(move, part) }));
  return <Card view={view} kind="now" title={words.firstMoves} moves={moves} nothing={words.nothingNow} />;
}

function NowAndNext({ view, cue, all }: { view: View; cue: Cue; all: boolean }) {
  const beats = beatsToNext(cue);
  const most = all ? 2 * MOST : MOST;
  const next = beats === null ? words.next : words.nextIn(beats);
  return (
    <>
      <Card
        view={view}
        kind="now"
        title={words.now}
        moves={mineFirst(cue.moves).slice(0, most)}
        nothing={words.nothingNow}
      />
      <Card
        view={view}
        kind="next"
        title={next}
        moves={mineFirst(cue.next).slice(0, most)}
        nothing={words.nothingNext}
      />
    </>
  );
}

function Card(props: { view: View; kind: 'now' | 'next'; title: string; moves: CueMove[]; nothing: string }) {
  const { view, kind, title, moves, nothing } = props;
  const box = useFit(moves.map(({ part, move }) => `${part}/${move.at_ticks}/${move.who}`).join());
  const mine = moves.some((move) => move.part !== 'watch');
  return (
    <section class={`card ${kind}`} aria-label={title} data-mine={mine}>
      <h2>{title}</h2>
      <div class="fitted" ref={box as RefObject<HTMLDivElement>}>
        {moves.length === 0 && <p class="nothing">{nothing}</p>}
        {moves.map(({ part, move }, n) => (
          <Move key={n} part={part} move={move} />
        ))}
      </div>
      <Pictured view={view} moves={moves} />
    </section>
  );
}

// One picture a card, where it is plain whose it is: of my own move, or of the only one.
function Pictured({ view, moves }: { view: View; moves: CueMove[] }) {
  const [first] = moves;
  if (first === undefined || (first.part === 'watch' && moves.length > 1)) return null;
  return <Figure sheet={view.run} move={first.move} part={first.part} near />;
}
