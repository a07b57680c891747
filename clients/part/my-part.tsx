// My part, read, played and asked: the whole fight phrase by phrase, my own moves and replies with partner and picture, my
// marks and walks, and what is new to me. On the phone while nothing moves, and at home from a file. No run is touched by
// it.
import { useEffect, useState } from 'preact/hooks';
import { wayOf } from '../core/feet';
import { partIn } from '../core/reading';
import type { Lesson, MoveView, PartSheet, PhraseView, Since } from '../core/wire';
import { words } from '../core/words/alone';
import { words as near } from '../core/words/standing-by';
import { Figure } from '../ui/figure';
import { Move } from '../ui/parts';
import { AskMe } from './ask-me';
import { Practice } from './practice';
import type { Source } from './source';
import { TakeHome } from './take-home';

/** A part: `first` is the fight that is wanted first, `part` whose it is; nothing for nobody's. */
export function Part({ source, part, first }: { source: Source; part: string | null; first: string | null }) {
  const [wanted, setWanted] = useState<string | null>(null);
  const { told, refused, again } = useTold(source, wanted ?? first, part);
  const [others, setOthers] = useState(part === null);
  const [from, setFrom] = useState<number | null>(null);
  const mine =
    told?.fights.filter((each) => part === null || [...each.fighters, ...each.bystanders].includes(part)) ?? [];
  const lesson = told?.lesson ?? null;
  const fight = lesson?.sheet.fight ?? null;
  // The first answer is of the first fight of all, which may not be one's own.
  const own = mine.find((each) => each.fight === fight) ?? mine[0];
  useEffect(() => {
    if (wanted === null && first === null && own !== undefined && own.fight !== fight) setWanted(own.fight);
  }, [wanted, first, own, fight]);
  useEffect(() => setFrom(null), [fight]);
  return (
    <>
      {refused !== null && (
        <p class="bad" role="alert">
          <span>{refused}</span>{' '}
          <button type="button" onClick={again}>
            {words.alone.again}
          </button>
        </p>
      )}
      {mine.length > 1 && (
        <label>
          {words.fight}
          <select value={fight ?? ''} onChange={(event) => setWanted(event.currentTarget.value)}>
            {mine.map((each) => (
              <option key={each.fight}>{each.fight}</option>
            ))}
          </select>
        </label>
      )}
      {lesson !== null && (
        <>
          <Practice key={fight} lesson={lesson} part={part} source={source} from={from} setFrom={setFrom} />
          {part !== null && <AskMe key={`${fight} asked`} sheet={lesson.sheet} part={part} store={source.store} />}
          {source.onThePlan?.(lesson, part)}
          {told?.since != null && <News since={told.since} lesson={lesson} />}
          {part !== null && (
            <button type="button" aria-pressed={others} onClick={() => setOthers(!others)}>
              {words.alone.others}
            </button>
          )}
          {lesson.sheet.phrases.map((phrase) => (
            <Phrase
              key={phrase.phrase}
              {...{ lesson, part, others, phrase }}
              since={told?.since ?? null}
              playFrom={setFrom}
            />
          ))}
        </>
      )}
      {source.takeHome !== null && <TakeHome takeHome={source.takeHome} part={part} />}
    </>
  );
}

function useTold(source: Source, fight: string | null, part: string | null) {
  const [told, setTold] = useState<PartSheet | null>(null);
  const [refused, setRefused] = useState<string | null>(null);
  const [asked, setAsked] = useState(0);
  useEffect(() => {
    let asks = true;
    const ask = async (): Promise<void> => {
      try {
        const answer = await source.read(fight, part);
        if (!asks) return;
        setTold(answer);
        setRefused(null);
      } catch (fault) {
        if (asks) setRefused(fault instanceof Error ? fault.message : words.myPart.noAnswer);
      }
    };
    void ask();
    return () => {
      asks = false;
    };
  }, [source, fight, part, asked]);
  return { told, refused, again: () => setAsked(asked + 1) };
}

/** What is another since they ran it last. */
function News({ since, lesson }: { since: Since; lesson: Lesson }) {
  const day = new Date(since.utc).toLocaleDateString(undefined, { weekday: 'long', day: 'numeric', month: 'long' });
  const same = since.new.length + since.moved.length + since.gone.length === 0;
  const moves = lesson.sheet.moves;
  const said = (places: number[]): MoveView[] => places.flatMap((at) => moves[at] ?? []);
  return (
    <section class="card since">
      <h2>{words.alone.since(day)}</h2>
      {same && <p>{words.alone.nothingNew}</p>}
      <ul>
        {said(since.new).map((move, n) => (
          <li key={`new ${n}`}>
            <b>{words.alone.isNew}</b> <Where lesson={lesson} move={move} />
          </li>
        ))}
        {said(since.moved).map((move, n) => (
          <li key={`moved ${n}`}>
            <b>{words.alone.isMoved}</b> <Where lesson={lesson} move={move} />
          </li>
        ))}
        {since.gone.map((gone, n) => (
          <li key={`gone ${n}`}>
            <b>{words.alone.isGone}</b> <bdi>{gone.phrase}</bdi>: <bdi>{gone.words}</bdi>
          </li>
        ))}
      </ul>
    </section>
  );
}

function Where({ lesson, move }: { lesson: Lesson; move: MoveView }) {
  const phrase = lesson.sheet.phrases.find((each) => each.phrase === move.phrase);
  return (
    <>
      <bdi>{phrase?.name}</bdi>, {words.beat(move.beat)}: <bdi>{move.who}</bdi> <bdi>{move.action}</bdi>
      {move.reply !== null && (
        <>
          {' / '}
          <bdi>{move.to}</bdi> <bdi>{move.reply}</bdi>
        </>
      )}
    </>
  );
}

interface InPhrase {
  lesson: Lesson;
  part: string | null;
  others: boolean;
  phrase: PhraseView;
  since: Since | null;
  playFrom(ticks: number): void;
}

/** A phrase, line by line: marks, then moves and walks in their order. */
function Phrase({ lesson, part, others, phrase, since, playFrom }: InPhrase) {
  const { sheet } = lesson;
  const isMine = (who: string, to: string | null): boolean => part === null || who === part || to === part;
  const moves = sheet.moves
    .map((move, index) => ({ move, index }))
    .filter(({ move }) => move.phrase === phrase.phrase && (others || isMine(move.who, move.to)));
  const steps = sheet.feet.filter((each) => each.phrase === phrase.phrase && (others || isMine(each.who, null)));
  const passing = sheet.near.filter((each) => each.phrase === phrase.phrase && (others || isMine(each.who, null)));
  const isIn =
    moves.length > 0 || passing.length > 0 || (part !== null && sheet.bystanders.includes(part) && steps.length > 0);
  const lines = [
    ...steps.map((step) => ({ at: step.at_ticks, order: step.beat === null ? 0 : 1, step, of: null, passing: null })),
    ...moves.map((of) => ({ at: of.move.at_ticks, order: 2, step: null, of, passing: null })),
    ...passing.map((each) => ({ at: each.at_ticks, order: 3, step: null, of: null, passing: each })),
  ].sort((a, b) => a.at - b.at || a.order - b.order);
  return (
    <section class="card phrase">
      <h2 dir="auto">
        {phrase.phrase + 1}. {phrase.name}
      </h2>
      {!isIn && <p class="nothing">{words.alone.notIn}</p>}
      <ol>
        {lines.map(({ step, of, passing }, n) =>
          passing !== null ? (
            <li key={n} class="feet">
              <small>{words.beat(passing.beat)}</small>
              <p>
                {passing.who !== part && (
                  <>
                    <bdi>{passing.who}</bdi>:{' '}
                  </>
                )}
                {near.standingBy.passes(passing.by, passing.action, passing.metres, passing.side)}
              </p>
            </li>
          ) : step !== null ? (
            <li key={n} class="feet">
              <small>{step.beat === null ? words.alone.mark : words.beat(step.beat)}</small>
              <p>
                <bdi>{step.who === part ? words.you : step.who}</bdi>{' '}
                {step.until === null ? wayOf(step) : words.feet.until(wayOf(step), step.until)}
              </p>
            </li>
          ) : of === null ? null : (
            <li key={n}>
              <small>
                {words.beat(of.move.beat)}
                {since?.new.includes(of.index) === true && <b> {words.alone.isNew}</b>}
                {since?.moved.includes(of.index) === true && <b> {words.alone.isMoved}</b>}
              </small>
              <div class="pictured">
                <Move move={of.move} part={partIn(of.move, part)} />
                <Figure sheet={sheet} move={of.move} part={partIn(of.move, part)} near />
              </div>
              <button
                type="button"
                class="from-here"
                aria-label={words.alone.fromHereOf(of.move.beat, phrase.name)}
                onClick={() => playFrom(of.move.at_ticks)}
              >
                {words.alone.fromHere}
              </button>
            </li>
          ),
        )}
      </ol>
    </section>
  );
}
