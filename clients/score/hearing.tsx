// The phrases of the draft: how fast each can safely go, and its hearing and stepping on this page.
import { useState } from 'preact/hooks';
import { Refused } from '../core/asking';
import type { View } from '../core/model';
import { stageOf } from '../core/reading';
import type { Session } from '../core/session';
import type { DraftPhrase, Preview, Stage } from '../core/wire';
import { words } from '../core/words/score';
import type { Api } from './api';
import type { Hearing } from './hear';
import type { Studio } from './studio';
import { safeTo } from './safe';

interface Props {
  studio: Studio;
  api: Api;
  hearing: Hearing;
  session: Session;
  view: View;
  /** The caret's line, counted from 1: its phrase is the one that is heard. */
  line: number;
  goTo(line: number): void;
}

/** True while a sound of this page could be taken for the run's. */
export const isReal = (stage: Stage | null): boolean => stage === 'running' || stage === 'count-in' || stage === 'held';

/** The phrase that a line belongs to, counted from 0; nothing before the first. */
export function phraseAt(phrases: readonly DraftPhrase[], line: number): number | null {
  const found = phrases.findLastIndex((phrase) => phrase.line <= line);
  return found < 0 ? (phrases.length > 0 ? 0 : null) : found;
}

/** Hear and step, and the phrases with their limits. */
export function Phrases(props: Props) {
  const { studio, line, goTo } = props;
  const phrases = studio.report.value?.report.phrases ?? [];
  const chosen = phraseAt(phrases, line);
  return (
    <section class="phrases">
      <h2>{words.score.phrasesTitle}</h2>
      {phrases.length === 0 && <p>{words.score.noPhrases}</p>}
      {chosen !== null && <Hear {...props} phrases={phrases} chosen={chosen} />}
      <Limits phrases={phrases} goTo={goTo} />
    </section>
  );
}

interface HearProps extends Props {
  phrases: DraftPhrase[];
  /** The phrase that is heard, counted from 0. */
  chosen: number;
}

// Which phrase at which speed, and its hearing and stepping.
function Hear({ studio, api, hearing, session, view, goTo, phrases, chosen }: HearProps) {
  const [percent, setPercent] = useState(100);
  const preview = usePreview(studio, api, chosen, percent);
  const hear = (): void => {
    hearing.wake();
    void preview().then((got) => {
      // A run may have begun while the answer was on its way.
      if (got !== null && !isReal(stageOf(session.view))) hearing.play(got);
    });
  };
  const step = (by: 1 | -1) => (): void => {
    void preview().then((got) => got !== null && hearing.step(got, by));
  };
  const counts = isReal(stageOf(view));
  const heard = hearing.heard.value;
  return (
    <>
      <div class="row">
        <PhraseChoice phrases={phrases} chosen={chosen} goTo={goTo} />
        <label class="narrow">
          {words.speed} (%)
          <input
            type="number"
            min={10}
            max={150}
            value={percent}
            onInput={(event) => {
              const typed = Math.round(Number(event.currentTarget.value));
              if (typed >= 10 && typed <= 150) setPercent(typed);
            }}
          />
        </label>
      </div>
      <div class="choices">
        <HearButton playing={heard?.playing === true} counts={counts} hear={hear} silence={() => hearing.silence()} />
        <button type="button" onClick={step(-1)}>
          {words.score.stepBack}
        </button>
        <button type="button" onClick={step(1)}>
          {words.score.stepOn}
        </button>
      </div>
      <p class="heard card" aria-live={heard?.playing === true ? 'off' : 'polite'}>
        {heardWords(heard, counts)}
      </p>
    </>
  );
}

// One button: it lets hear, or makes silent.
function HearButton(props: { playing: boolean; counts: boolean; hear(): void; silence(): void }) {
  const { playing, counts, hear, silence } = props;
  return playing ? (
    <button type="button" onClick={silence}>
      {words.score.silence}
    </button>
  ) : (
    <button type="button" disabled={counts} onClick={hear}>
      {words.score.hear}
    </button>
  );
}

function PhraseChoice({ phrases, chosen, goTo }: Pick<HearProps, 'phrases' | 'chosen' | 'goTo'>) {
  return (
    <label class="phrase-choice">
      {words.score.phrase}
      <select value={String(chosen)} onChange={(event) => goTo(phrases[Number(event.currentTarget.value)]?.line ?? 1)}>
        {phrases.map((phrase, n) => (
          <option key={n} value={String(n)}>
            {n + 1}. {phrase.name}
          </option>
        ))}
      </select>
    </label>
  );
}

// How fast each phrase can safely go, and what limits it.
function Limits({ phrases, goTo }: Pick<HearProps, 'phrases' | 'goTo'>) {
  return (
    <ol>
      {phrases.map(({ name, line, safe, with_sets }, n) => (
        <li key={n}>
          <button type="button" onClick={() => goTo(safe?.line ?? line)}>
            <span>{name}</span>
            <span>{safeTo(safe)}</span>
            {safe !== null && <small>{words.score.limitedBy(safe.line, safe.words)}</small>}
            {with_sets.map((set) => (
              <span key={set.weapons}>{words.score.withSet(set.weapons, safeTo(set.safe))}</span>
            ))}
          </button>
        </li>
      ))}
    </ol>
  );
}

// Asks for a phrase of the draft as it is heard; the last answer is kept as long as it is asked for the same.
function usePreview(studio: Studio, api: Api, phrase: number, percent: number): () => Promise<Preview | null> {
  const [cached, setCached] = useState<{ of: string; preview: Preview } | null>(null);
  return async () => {
    const file = studio.file.value;
    const text = studio.draft.value?.text;
    if (file === null || text === undefined) return null;
    const of = JSON.stringify([file, phrase, percent, text]);
    if (cached?.of === of) return cached.preview;
    try {
      const got = await api.preview({ file, text, phrase, percent });
      setCached({ of, preview: got });
      return got;
    } catch (error) {
      studio.said.value = { good: false, text: error instanceof Refused ? error.message : words.score.noAnswer };
      return null;
    }
  };
}

function heardWords(heard: ReturnType<() => Hearing['heard']['value']>, counts: boolean): string {
  if (counts) return words.score.notNow;
  const moment = heard?.preview.moments[heard.at];
  if (heard === null || moment === undefined) return words.score.hearHint;
  if (moment.count_in !== null) return words.countIn(moment.count_in);
  return [words.beat(moment.beat), ...moment.words].join(' · ');
}
