// The sound cues of a phrase: on a line of time, and one by one with the move that each belongs to. It works with
// nothing set up: the server tells the cues of whatever fight, phrase and speed are chosen here.
import { useEffect, useRef, useState } from 'preact/hooks';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import { ready } from '../core/sound';
import type { LoopView, SoundCueView, SoundPhrase, SoundView } from '../core/wire';
import { words } from '../core/words/sound';
import { Count } from './count';
import type { Ask } from './drawn';
import { clock, signedDb, signedMs } from './figures';

interface Props {
  session: Session;
  view: View;
  linked: boolean;
  ask: Ask;
  test(sound: string, level_db: number): void;
}

/** The choice of fight, phrase and speed, and what is heard there. */
export function Cues({ session, view, linked, ask, test }: Props) {
  const fights = view.fights ?? [];
  const setup = view.state?.setup ?? null;
  const [chosen, setChosen] = useState<string | null>(null);
  const [number, setNumber] = useState(0);
  const [percent, setPercent] = useState(setup?.percent ?? 100);
  const names = fights.map((fight) => fight.fight);
  const wanted = chosen ?? setup?.fight ?? '';
  const fight = names.includes(wanted) ? wanted : names[0];
  const { cues, scores } = view.sound;
  useEffect(() => {
    if (linked && fight !== undefined) ask({ what: 'cues', fight, percent });
  }, [linked, fight, percent, scores]);
  if (fight === undefined) return <p>{view.fights === null ? words.stageUnknown : words.sounds.noFights}</p>;
  const told = cues?.fight === fight ? cues : null;
  const phrase = told?.phrases[number] ?? told?.phrases[0];
  const shown = phrase === undefined ? 0 : (told?.phrases.indexOf(phrase) ?? 0);
  const choose = (name: string): void => {
    setChosen(name);
    setNumber(0);
  };
  return (
    <section class="cues">
      <h2>{words.sounds.cuesTitle}</h2>
      <div class="row choosing">
        <label>
          {words.fight}
          <select value={fight} onChange={(event) => choose(event.currentTarget.value)}>
            {names.map((name) => (
              <option key={name}>{name}</option>
            ))}
          </select>
        </label>
        <label>
          {words.sounds.phrase}
          <select value={String(shown)} onChange={(event) => setNumber(Number(event.currentTarget.value))}>
            {told?.phrases.map((each, n) => (
              <option key={n} value={String(n)}>
                {n + 1}. {each.name}
              </option>
            ))}
          </select>
        </label>
        <label class="narrow">
          {words.speed} (%)
          <Count value={percent} range={[10, 150]} step={5} whole change={setPercent} />
        </label>
        <GoRound
          looping={view.sound.now?.looping ?? null}
          phrase={phrase?.name ?? ''}
          start={() => ask({ what: 'loop', fight, phrase: shown, percent })}
          end={() => ask({ what: 'end-loop' })}
        />
      </div>
      {phrase === undefined && <p>{words.sounds.noneYet}</p>}
      {phrase !== undefined && (
        <>
          <Line phrase={phrase} sounds={view.sound.sounds} session={session} looping={goesRound(view, fight, shown)} />
          <List phrase={phrase} sounds={view.sound.sounds} ready={ready(view.sound)} test={test} />
        </>
      )}
      {told !== null && told.left_out > 0 && <p class="bad">{words.sounds.leftOut(told.left_out)}</p>}
    </section>
  );
}

/** The loop, if it is of what is on the screen. */
function goesRound(view: View, fight: string, phrase: number): LoopView | null {
  const looping = view.sound.now?.looping ?? null;
  return looping !== null && looping.fight === fight && looping.phrase === phrase ? looping : null;
}

function GoRound(props: { looping: LoopView | null; phrase: string; start(): void; end(): void }) {
  if (props.looping !== null) {
    return (
      <button type="button" class="main" aria-pressed="true" onClick={props.end}>
        {words.sounds.loopEnd}
        <small>{words.sounds.loopBy(props.looping.by, props.phrase, props.looping.percent)}</small>
      </button>
    );
  }
  return (
    <button type="button" data-starts onClick={props.start} disabled={props.phrase === ''}>
      {words.sounds.loop}
      <small>{words.sounds.loopHint}</small>
    </button>
  );
}

/** When a cue is heard, with the production's trim. */
function heardAt(cue: SoundCueView, sounds: SoundView[]): number {
  return cue.at_us + (sounds.find((each) => each.sound === cue.sound)?.trim_us ?? 0);
}

/** The phrase from left to right: a line at every beat, a mark at every cue, and where the round is. */
function Line(props: { phrase: SoundPhrase; sounds: SoundView[]; session: Session; looping: LoopView | null }) {
  const { phrase, sounds, session, looping } = props;
  const needle = useRef<HTMLDivElement>(null);
  const start = looping?.start_us ?? null;
  const length = looping?.length_us ?? 1;
  useEffect(() => {
    let frame = 0;
    const move = (): void => {
      const now = session.serverNowUs();
      const since = start === null || now === null ? null : now - start;
      const place = since === null || since < 0 ? null : (since % length) / length;
      if (needle.current !== null) {
        needle.current.hidden = place === null;
        needle.current.style.left = `${(place ?? 0) * 100}%`;
      }
      frame = requestAnimationFrame(move);
    };
    frame = requestAnimationFrame(move);
    return () => cancelAnimationFrame(frame);
  }, [session, start, length]);
  const part = (us: number): string => `${Math.min(1, Math.max(0, us / Math.max(1, phrase.length_us))) * 100}%`;
  return (
    <div class="line" role="img" aria-label={words.sounds.timeline(phrase.name, phrase.cues.length)}>
      {phrase.beats_us.map((us, n) => (
        <i key={n} style={{ left: part(us) }} />
      ))}
      {phrase.cues.map((cue, n) => (
        <b key={n} class={cue.known ? undefined : 'unknown'} style={{ left: part(heardAt(cue, sounds)) }} />
      ))}
      <div class="needle" ref={needle} hidden />
    </div>
  );
}

function List(props: { phrase: SoundPhrase; sounds: SoundView[]; ready: boolean; test: Props['test'] }) {
  const { phrase, sounds, ready, test } = props;
  const [beat, move, sound, at, tries] = words.sounds.columns;
  if (phrase.cues.length === 0) return <p>{words.sounds.noCues}</p>;
  return (
    <div class="scroll" tabIndex={0} role="group" aria-label={words.sounds.cuesTitle}>
      {/* On a phone each row is a card; the roles keep it a table for those who listen to it. */}
      <table role="table">
        <thead role="rowgroup">
          <tr role="row">
            <th role="columnheader" scope="col">
              {beat}
            </th>
            <th role="columnheader" scope="col">
              {move}
            </th>
            <th role="columnheader" scope="col">
              {sound}
            </th>
            <th role="columnheader" scope="col">
              {at}
            </th>
            <th role="columnheader" scope="col">
              {tries}
            </th>
          </tr>
        </thead>
        <tbody role="rowgroup">
          {phrase.cues.map((cue, n) => (
            <tr role="row" key={n}>
              <th role="rowheader" scope="row">
                {cue.beat}
              </th>
              <td role="cell">{cue.words ?? '–'}</td>
              <td role="cell">
                <b>{cue.sound}</b>
                <FromScore cue={cue} />
              </td>
              <td role="cell">{clock(heardAt(cue, sounds))}</td>
              <td role="cell">
                <button
                  type="button"
                  data-starts
                  disabled={!cue.known || !ready}
                  aria-label={words.sounds.testOf(cue.sound, cue.beat)}
                  onClick={() => test(cue.sound, cue.level_db)}
                >
                  {words.sounds.test}
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function FromScore({ cue }: { cue: SoundCueView }) {
  if (!cue.known) return <small class="bad">{words.sounds.unknown}</small>;
  if (cue.score_trim_us === 0 && cue.level_db === 0) return null;
  return <small>{words.sounds.fromScore(signedMs(cue.score_trim_us), signedDb(cue.level_db))}</small>;
}
