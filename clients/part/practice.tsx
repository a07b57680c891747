// A part that plays by itself: at any speed, from any move, counted in and going round, with click, sounds and calls. One's
// own half can be covered until its beat; what was not known is remembered and can be played alone.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Lesson, MoveView } from '../core/wire';
import { words } from '../core/words/alone';
import { OneOf, Switch } from '../ui/choices';
import { Figure } from '../ui/figure';
import { Move } from '../ui/parts';
import { habitsOf, keepHabits, type Habits } from './habits';
import {
  around,
  FASTEST,
  phraseAt,
  roundOf,
  shownAt,
  SLOWEST,
  whole,
  type Act,
  type Round,
  type Shown,
  type Stretch,
} from './plan';
import { canSpeak, Player } from './player';
import { notKnown, questionOf, remembered, rememberedAt } from './questions';
import type { Source } from './source';

interface Props {
  lesson: Lesson;
  part: string | null;
  source: Source;
  /** Where it is to begin, ticks; nothing for the beginning. */
  from: number | null;
  setFrom(ticks: number | null): void;
}

/** The player. */
export function Practice({ lesson, part, source, from, setFrom }: Props) {
  const [habits, setHabits] = useState(() => habitsOf(source.store));
  const place = part === null ? null : rememberedAt(lesson.sheet, part);
  const [missed, setMissed] = useState<string[]>(() => (place === null ? [] : remembered(source.store.get(place))));
  const [heard, setHeard] = useState<string | null>(null);
  const [begin, setBegin] = useState(0);
  const playing = usePlaying(source, (round) => (place === null ? undefined : settle(round)));
  const choose = (chosen: Partial<Habits>): void => {
    const next = { ...habits, ...chosen };
    setHabits(next);
    keepHabits(source.store, next);
  };
  // Of a covered round: what was not known is remembered as such, what was known is no longer.
  const settle = ({ round, unknown }: Played): void => {
    if (!habits.covered || place === null || part === null) return;
    const asked = round.acts.map((act) => questionOf(lesson.sheet, act.move, act.part === 'answer' ? 'answer' : 'act'));
    const known = asked.filter((id) => !unknown.has(id));
    const next = notKnown(remembered(source.store.get(place)), { left: [], known, missed: [...unknown] });
    source.store.set(place, JSON.stringify(next));
    setMissed(next);
    setHeard(words.alone.knew(known.length, asked.length));
  };
  const hard = lesson.sheet.moves.filter((move) => part !== null && isMissed(lesson, part, move, missed));
  const start = (stretches: readonly Stretch[], goesRound: boolean): void => {
    setHeard(null);
    const wish = { ...habits, countIn: habits.barsIn * lesson.sheet.beats_per_bar };
    const round = roundOf(lesson, part, wish, stretches);
    void playing.play(round, goesRound, habits.effects ? () => source.clips(lesson.sheet.fight) : null);
  };
  const stretch = (at: number): Stretch => ({
    from: at,
    to: habits.round === 'phrase' ? phraseAt(lesson, at).to : whole(lesson).to,
  });
  useEffect(() => {
    if (from === null) return;
    setFrom(null);
    start([stretch(from)], habits.round !== 'once');
    // Only a place that is asked for begins anew; what else changes is for the next time.
  }, [from]);
  if (playing.round !== null) {
    const { round, stop } = playing;
    return (
      <Playing
        {...{ lesson, part, round, playing }}
        covered={habits.covered && part !== null}
        stop={stop}
        says={(act) => questionOf(lesson.sheet, act.move, act.part === 'answer' ? 'answer' : 'act')}
      />
    );
  }
  return (
    <section class="card practice" aria-label={words.alone.play}>
      {heard !== null && <p role="status">{heard}</p>}
      {playing.fault !== null && (
        <p class="bad" role="alert">
          {playing.fault}
        </p>
      )}
      <div class="choices">
        <button type="button" class="main" onClick={() => start([stretch(begin)], habits.round !== 'once')}>
          ▶ {words.alone.play}
        </button>
        {hard.length > 0 && (
          <button type="button" onClick={() => start(around(lesson, hard), false)}>
            {words.alone.playMissed(hard.length)}
          </button>
        )}
      </div>
      <Speed percent={habits.percent} choose={(percent) => choose({ percent })} />
      <details>
        <summary>{words.alone.how}</summary>
        <label>
          {words.alone.from}
          <select value={String(begin)} onChange={(event) => setBegin(Number(event.currentTarget.value))}>
            {lesson.sheet.phrases.map((each) => (
              <option key={each.phrase} value={String(each.at_ticks)}>
                {each.name}
              </option>
            ))}
          </select>
        </label>
        <OneOf
          label={words.alone.round}
          names={words.alone.roundOf}
          chosen={habits.round}
          choose={(round) => choose({ round })}
        />
        <OneOf
          label={words.alone.countIn}
          names={words.alone.countInOf}
          chosen={String(habits.barsIn) as '0' | '1' | '2'}
          choose={(bars) => choose({ barsIn: Number(bars) })}
        />
        <Switch label={words.alone.click} on={habits.click} turn={(click) => choose({ click })} />
        <Switch label={words.alone.effects} on={habits.effects} turn={(effects) => choose({ effects })} />
        {canSpeak() ? (
          <Switch label={words.alone.calls} on={habits.calls} turn={(calls) => choose({ calls })} />
        ) : (
          <p>{words.noVoice}</p>
        )}
        <Switch label={words.alone.withOthers} on={habits.others} turn={(others) => choose({ others })} />
        {part !== null && (
          <Switch label={words.alone.cover} on={habits.covered} turn={(covered) => choose({ covered })} />
        )}
      </details>
    </section>
  );
}

function isMissed(lesson: Lesson, part: string, move: MoveView, missed: readonly string[]): boolean {
  return (['act', 'answer'] as const).some(
    (asks) => (asks === 'act' ? move.who : move.to) === part && missed.includes(questionOf(lesson.sheet, move, asks)),
  );
}

/** A round that was played, and which of its acts were not known. */
interface Played {
  round: Round;
  unknown: ReadonlySet<string>;
}

function usePlaying(source: Source, settled: (played: Played) => void) {
  const player = useMemo(() => new Player(), []);
  const [round, setRound] = useState<Round | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const unknown = useMemo(() => new Set<string>(), []);
  // Which wish to play stands. A stop takes it back, also while its sounds are still fetched: what came to the room meanwhile
  // is to be heard.
  const wish = useRef(0);
  const silence = (): void => {
    wish.current += 1;
    player.stop();
  };
  const stop = (): void => {
    silence();
    setRound(null);
  };
  // At once, before anything is drawn: whoever plays to themselves has to hear the room.
  useEffect(() => source.interrupts(stop), [source, player]);
  useEffect(() => silence, [player]);
  const play = async (
    next: Round,
    goesRound: boolean,
    clips: (() => ReturnType<Source['clips']>) | null,
  ): Promise<void> => {
    wish.current += 1;
    const own = wish.current;
    player.wake();
    setFault(null);
    let refusal: string | null = null;
    try {
      if (clips !== null) await player.take(await clips());
    } catch (refused) {
      refusal = refused instanceof Error ? refused.message : words.myPart.noAnswer;
    }
    if (own !== wish.current) return;
    setFault(refusal);
    unknown.clear();
    const over = (): void => {
      settled({ round: next, unknown: new Set(unknown) });
      unknown.clear();
      if (goesRound) player.play(next, over);
      else setRound(null);
    };
    player.play(next, over);
    setRound(next);
  };
  return { player, round, fault, play, stop, unknown };
}

interface PlayingProps {
  lesson: Lesson;
  part: string | null;
  round: Round;
  playing: { player: Player; unknown: Set<string> };
  covered: boolean;
  stop(): void;
  says(act: Act): string;
}

/** What stands on the screen while it plays: the beat, what I do now, and what comes. */
function Playing({ lesson, part, round, playing, covered, stop, says }: PlayingProps) {
  const shown = useShown(round, playing.player);
  const { unknown } = playing;
  const [, redraw] = useState(0);
  const last = shown.now;
  const here = useRef<HTMLElement>(null);
  useEffect(() => here.current?.scrollIntoView({ block: 'start' }), []);
  return (
    <section class="card playing" ref={here} aria-label={words.alone.playing}>
      <div class="playing-head">
        <strong data-testid="practice-count">{shown.beat?.countIn ?? shown.beat?.count ?? ''}</strong>
        <button type="button" class="main" onClick={stop}>
          ■ {words.alone.stop}
        </button>
      </div>
      {last !== null && <Seat {...{ lesson, part }} act={last} when={words.now} solid covered={false} />}
      {covered && last !== null && (
        <button
          type="button"
          aria-pressed={unknown.has(says(last))}
          onClick={() => {
            unknown.add(says(last));
            redraw(Math.random());
          }}
        >
          {words.alone.didNotKnow}
        </button>
      )}
      {shown.next !== null && (
        <Seat
          {...{ lesson, part }}
          act={shown.next}
          when={words.nextIn(shown.nextIn ?? 0)}
          solid={false}
          covered={covered}
        />
      )}
      {round.uncalled > 0 && <p>{words.alone.uncalled(round.uncalled)}</p>}
    </section>
  );
}

function useShown(round: Round, player: Player): Shown {
  const [shown, setShown] = useState<Shown>(() => shownAt(round, 0));
  useEffect(() => {
    let frame = 0;
    let before = '';
    const look = (): void => {
      const now = shownAt(round, player.nowUs());
      const name = [now.beat?.atUs, now.now?.atUs, now.next?.atUs, now.nextIn].join();
      if (name !== before) setShown(now);
      before = name;
      frame = requestAnimationFrame(look);
    };
    frame = requestAnimationFrame(look);
    return () => cancelAnimationFrame(frame);
  }, [round, player]);
  return shown;
}

function Seat(props: {
  lesson: Lesson;
  part: string | null;
  act: Act;
  when: string;
  solid: boolean;
  covered: boolean;
}) {
  const { lesson, act, when, solid, covered } = props;
  const move = act.part === 'answer' ? { ...act.move, reply: null, text: null } : null;
  return (
    <div class="seat" data-solid={solid}>
      <small>{when}</small>
      {!covered && (
        <div class="pictured">
          <Move move={act.move} part={act.part} />
          <Figure sheet={lesson.sheet} move={act.move} part={act.part} near />
        </div>
      )}
      {covered && move !== null && <Move move={move} part="answer" />}
      {covered && <p class="lead">{move === null ? words.alone.whatAct(act.move.to) : words.alone.whatAnswer}</p>}
    </div>
  );
}

function Speed({ percent, choose }: { percent: number; choose(percent: number): void }) {
  const step = (by: number): void => choose(Math.min(FASTEST, Math.max(SLOWEST, percent + by)));
  return (
    <div class="one-of" role="group" aria-label={words.speed}>
      <span>{words.speed}</span>
      <button type="button" aria-label={words.alone.slower} onClick={() => step(-5)}>
        −
      </button>
      <output aria-live="polite">{percent} %</output>
      <button type="button" aria-label={words.alone.faster} onClick={() => step(5)}>
        +
      </button>
    </div>
  );
}
