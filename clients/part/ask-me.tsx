// "Ask me": one move of my part after the other. The attack is shown and the reply is not, until a touch; then I say
// whether I knew it. What I did not know is remembered on this phone and can be asked alone.
import { useState } from 'preact/hooks';
import type { Store } from '../core/platform';
import { partIn } from '../core/reading';
import type { RunSheet } from '../core/wire';
import { words } from '../core/words/alone';
import { Figure } from '../ui/figure';
import { Move } from '../ui/parts';
import {
  answered,
  begin,
  notKnown,
  questionsOf,
  remembered,
  rememberedAt,
  type Question,
  type Round,
} from './questions';

/** The questions about a part of a fight, folded until somebody wants to be asked. */
export function AskMe({ sheet, part, store }: { sheet: RunSheet; part: string; store: Store }) {
  const place = rememberedAt(sheet, part);
  const all = questionsOf(sheet, part);
  const [round, setRound] = useState<Round | null>(null);
  const [shown, setShown] = useState(false);
  const hard = new Set(remembered(store.get(place)));
  const missed = all.filter(({ id }) => hard.has(id));
  const start = (questions: Question[]): void => {
    setShown(false);
    setRound(begin(questions));
  };
  const say = (knew: boolean): void => {
    if (round === null) return;
    const next = answered(round, knew);
    // It is kept at once: whoever puts the phone away in the middle goes on from there.
    store.set(place, JSON.stringify(notKnown([...hard], next)));
    setShown(false);
    setRound(next);
  };
  if (all.length === 0) return null;
  const now = round?.left[0];
  if (round === null || now === undefined) {
    return (
      <div class="choices">
        {round !== null && (
          <p role="status">{words.alone.knew(round.known.length, round.known.length + round.missed.length)}</p>
        )}
        <button type="button" onClick={() => start(all)}>
          {words.alone.ask(all.length)}
        </button>
        {missed.length > 0 && missed.length < all.length && (
          <button type="button" onClick={() => start(missed)}>
            {words.alone.askMissed(missed.length)}
          </button>
        )}
      </div>
    );
  }
  const at = round.known.length + round.missed.length + 1;
  return (
    <section class="card ask-me" aria-label={words.alone.asking}>
      <p>
        {words.alone.at(at, at - 1 + round.left.length)} · <span dir="auto">{now.phrase}</span> ·{' '}
        {words.beat(now.move.beat)}
      </p>
      <p class="lead">{now.asks === 'answer' ? words.alone.whatAnswer : words.alone.whatAct(now.move.to)}</p>
      {shown ? (
        <>
          <div class="pictured" role="status">
            <Move move={now.move} part={partIn(now.move, part)} />
            <Figure sheet={sheet} move={now.move} part={partIn(now.move, part)} near />
          </div>
          <div class="choices">
            <button type="button" class="main" onClick={() => say(true)}>
              {words.alone.iKnew}
            </button>
            <button type="button" onClick={() => say(false)}>
              {words.alone.notYet}
            </button>
          </div>
        </>
      ) : (
        <>
          {now.asks === 'answer' && <Move move={{ ...now.move, reply: null, text: null }} part="answer" />}
          <button type="button" class="main" onClick={() => setShown(true)}>
            {words.alone.show}
          </button>
        </>
      )}
      <button type="button" onClick={() => setRound(null)}>
        {words.alone.enough}
      </button>
    </section>
  );
}
