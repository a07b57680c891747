// Every sound of the production with its trim and its level: first those of the fight on the screen.
import { dayAndTime } from '../core/day';
import { ready, type SoundKnown, type Trimmer } from '../core/sound';
import type { SoundView } from '../core/wire';
import { words } from '../core/words/sound';
import { Count } from './count';

/** The furthest trim, milliseconds, and the levels, dB, that the server takes. */
const TRIM: [number, number] = [-500, 500];
const GAIN: [number, number] = [-60, 12];

interface Props {
  known: SoundKnown;
  trimmer: Trimmer;
  test(sound: string, level_db: number): void;
}

/** The sounds. */
export function Sounds({ known, trimmer, test }: Props) {
  const heard = new Set(known.cues?.phrases.flatMap((phrase) => phrase.cues.map((cue) => cue.sound)));
  const own = known.sounds.filter((view) => heard.has(view.sound));
  const others = known.sounds.filter((view) => !heard.has(view.sound));
  const can = ready(known);
  const row = (view: SoundView) => <Row key={view.sound} view={view} ready={can} trimmer={trimmer} test={test} />;
  return (
    <section class="sounds">
      <h2>{words.sounds.soundsTitle}</h2>
      <p>
        <small>{words.sounds.soundsHint}</small>
      </p>
      {own.length > 0 && <ul class="plain">{own.map(row)}</ul>}
      {others.length > 0 && (
        <details>
          <summary>{words.sounds.otherSounds(others.length)}</summary>
          <ul class="plain">{others.map(row)}</ul>
        </details>
      )}
    </section>
  );
}

interface RowProps extends Pick<Props, 'trimmer' | 'test'> {
  view: SoundView;
  ready: boolean;
}

function Row({ view, ready: can, trimmer, test }: RowProps) {
  const { sound } = view;
  return (
    <li class="sound-row">
      <span>
        <b>{sound}</b>
        <small>
          {view.recorded ? words.sounds.recorded : words.sounds.computed}, {words.sounds.takes(view.takes)}
          {view.attack_us !== null && `, ${words.sounds.attack(Math.round(view.attack_us / 1_000))}`}
        </small>
      </span>
      <label>
        {words.sounds.trim}
        <Count
          label={words.sounds.trimOf(sound)}
          value={view.trim_us / 1_000}
          range={TRIM}
          step={1}
          change={(ms) => trimmer.choose(view, { trim_us: Math.round(ms * 1_000) })}
        />
      </label>
      <label>
        {words.sounds.gain}
        <Count
          label={words.sounds.gainOf(sound)}
          value={view.gain_db}
          range={GAIN}
          step={0.5}
          change={(gain_db) => trimmer.choose(view, { gain_db })}
        />
      </label>
      <button
        type="button"
        data-starts
        disabled={!can}
        aria-label={words.sounds.testSound(sound)}
        onClick={() => test(sound, 0)}
      >
        {words.sounds.test}
      </button>
      <small class="chosen">
        {view.who !== null && view.when !== null && words.sounds.chosenBy(view.who, dayAndTime(view.when))}
      </small>
    </li>
  );
}
