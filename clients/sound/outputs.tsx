// How the outputs are: silence for all, the loudspeakers with meter and delay, MIDI, OSC, and what went out of late.
import type { SoundKnown } from '../core/sound';
import type { OutputView, SentView, SoundLane, SoundNow, SpeakersView } from '../core/wire';
import { words } from '../core/words/sound';
import { Device } from './device';
import type { Ask } from './drawn';
import { lateness, level, ms } from './figures';

/** What is shown of what went out. */
const MOST_SENT = 12;
/** The meter's lower end, decibels of full scale. */
const FLOOR_DB = -60;

interface Props {
  known: SoundKnown;
  /** What is wrong with the production's files. */
  troubles: string[];
  ask: Ask;
}

/** The outputs. */
export function Outputs({ known, troubles, ask }: Props) {
  const { now } = known;
  // What both lists name is said once.
  const wrong = [...new Set([...troubles, ...known.troubles])];
  return (
    <section class="outputs">
      <h2>{words.sounds.outputsTitle}</h2>
      {wrong.length > 0 && (
        <div>
          <h3>{words.sounds.troublesTitle}</h3>
          <ul class="bad">
            {wrong.map((trouble) => (
              <li key={trouble} lang="en">
                {trouble}
              </li>
            ))}
          </ul>
        </div>
      )}
      {now !== null && (
        <>
          {!now.prepared && <p role="status">{words.sounds.preparing}</p>}
          <Speakers speakers={now.speakers} meter={known.meter} />
          <Other name={words.sounds.midi} output={now.midi} />
          <Other name={words.sounds.osc} output={now.osc} />
          <Switches off={now.off} ask={ask} />
          <Sent sent={now.sent} />
        </>
      )}
      <Device known={known} ask={ask} />
    </section>
  );
}

/** Silence for everybody, and back; above everything else, so that it is found at once. */
export function Mute({ now, holdCall, ask }: { now: SoundNow | null; holdCall: boolean; ask: Ask }) {
  if (now === null) return null;
  if (now.muted_by === null) {
    return (
      <div class="muting">
        <button type="button" class="mute" onClick={() => ask({ what: 'mute', on: true })}>
          {words.sounds.mute}
          <small>{words.sounds.muteHint}</small>
        </button>
      </div>
    );
  }
  return (
    <div class="muting">
      <p class="bad" role="status">
        {words.sounds.mutedBy(now.muted_by)}
      </p>
      {holdCall && <p>{words.sounds.mutedHold}</p>}
      <button type="button" class="main" data-starts onClick={() => ask({ what: 'mute', on: false })}>
        {words.sounds.unmute}
      </button>
    </div>
  );
}

// What goes out, each on or off by itself.
function Switches({ off, ask }: { off: SoundLane[]; ask: Ask }) {
  const lanes = Object.keys(words.sounds.lane) as SoundLane[];
  return (
    <fieldset class="lanes">
      <legend>{words.sounds.lanesTitle}</legend>
      {lanes.map((lane) => (
        <label key={lane} class="tick">
          <input
            type="checkbox"
            checked={!off.includes(lane)}
            onChange={(event) => ask({ what: 'switch', lane, on: event.currentTarget.checked })}
          />
          <span>{words.sounds.lane[lane]}</span>
        </label>
      ))}
      <p>{words.sounds.lanesHint}</p>
    </fieldset>
  );
}

// How the loudspeakers have done. Where none plays, nothing has been heard, and no figure says otherwise.
function Counts({ speakers }: { speakers: SpeakersView }) {
  return (
    <dl class="counts">
      <Figure name={words.sounds.late} figure={speakers.late + speakers.dropped} bad />
      <Figure name={words.sounds.gaps} figure={speakers.underruns} bad />
      <Figure name={words.sounds.heard} figure={speakers.sounded} />
    </dl>
  );
}

function Speakers({ speakers, meter }: { speakers: SpeakersView; meter: SoundKnown['meter'] }) {
  const judged = speakers.judgement;
  return (
    <div class="output">
      <h3>{words.sounds.speakers}</h3>
      <Well well={speakers.well} says={speakers.says} />
      <Meter peak={meter.peak_db} rms={meter.rms_db} />
      {speakers.well && <Counts speakers={speakers} />}
      {speakers.well && (
        <p>
          {words.sounds.chain(ms(speakers.whole_us))}{' '}
          {words.sounds.chainParts(ms(speakers.device_us), ms(speakers.calibrated_us), ms(speakers.air_us))}
        </p>
      )}
      {speakers.well && speakers.left_us !== null && (
        <p class={judged === 'in-time' ? undefined : 'bad'}>
          {words.sounds.left(lateness(speakers.left_us))} {words.sounds.judgement[judged]}{' '}
          <small>{words.sounds.judgedBy}</small>
        </p>
      )}
    </div>
  );
}

function Figure({ name, figure, bad = false }: { name: string; figure: number; bad?: boolean }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd class={bad && figure > 0 ? 'bad' : undefined}>{figure}</dd>
    </div>
  );
}

/** The mix: a bar for its mean, a mark for its peak. It moves; it does not flash. */
function Meter({ peak, rms }: { peak: number; rms: number }) {
  const part = (db: number): number => Math.min(1, Math.max(0, 1 - db / FLOOR_DB));
  return (
    <div class="metering">
      <div class="meter" aria-hidden="true">
        <div style={{ transform: `scaleX(${part(rms)})` }} />
        <i style={{ left: `${part(peak) * 100}%` }} />
      </div>
      <span>{words.sounds.meter(level(peak), level(rms))}</span>
    </div>
  );
}

function Other({ name, output }: { name: string; output: OutputView }) {
  return (
    <div class="output">
      <h3>{name}</h3>
      <Well well={output.well} says={output.says} />
      {output.sent + output.late + output.lost > 0 && (
        <p class={output.late + output.lost > 0 ? 'bad' : undefined}>
          {words.sounds.counts(output.sent, output.late, output.lost)}
        </p>
      )}
    </div>
  );
}

function Well({ well, says }: { well: boolean; says: string }) {
  return (
    <p>
      <span class={well ? 'good' : 'bad'}>{well ? '✓' : words.unwell}</span> <span lang="en">{says}</span>
    </p>
  );
}

function Sent({ sent }: { sent: SentView[] }) {
  return (
    <div class="output">
      <h3>{words.sounds.sentTitle}</h3>
      {sent.length === 0 && <p>{words.sounds.sentNothing}</p>}
      <ol class="plain sent">
        {sent.slice(0, MOST_SENT).map((each, n) => (
          <li key={n}>
            <span>{words.sounds.output[each.output]}</span> <b>{each.label}</b>{' '}
            <span>{each.audible ? lateness(each.late_us) : words.sounds.unheard}</span>
          </li>
        ))}
      </ol>
    </div>
  );
}
