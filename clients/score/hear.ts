// A phrase of the draft, heard and stepped on this page alone: no run is touched, nobody else hears it. It is silent
// while a real run counts, and falls silent at once when one begins or a hold is called.
import { signal, type Signal } from '../ui/signal';
import type { Preview, PreviewMoment } from '../core/wire';

/** Where the hearing is. */
export interface Heard {
  preview: Preview;
  /** The moment that is now; before the first one, none. */
  at: number;
  playing: boolean;
}

/** From the press to the first click of the count-in, seconds. */
const LEAD = 0.15;
const CLICKS = { accent: [1_568, 0.04], beat: [1_047, 0.03] } as const;

/** Plays one phrase at a time. */
export class Hearing {
  readonly #heard = signal<Heard | null>(null);
  #audio: AudioContext | null = null;
  #stop: () => void = () => undefined;

  /** Where it is; nothing when no phrase is open. */
  get heard(): Signal<Heard | null> {
    return this.#heard;
  }

  /** Makes sound possible. Call it inside the press itself: a browser lets only a press start sound. */
  wake(): void {
    this.#audio ??= new AudioContext({ latencyHint: 'interactive' });
    void this.#audio.resume();
  }

  /** Plays a phrase from its count-in. */
  play(preview: Preview): void {
    this.silence();
    const audio = this.#audio;
    if (audio === null) return;
    const begins = audio.currentTime + LEAD - (preview.moments[0]?.seconds ?? 0);
    const tones = preview.moments.map((moment) => tone(audio, moment, begins + moment.seconds));
    let frame = 0;
    const look = (): void => {
      const now = audio.currentTime - (audio.outputLatency || 0) - begins;
      if (now >= preview.seconds) {
        this.silence();
        return;
      }
      const at = lastBefore(preview.moments, now);
      const heard = this.#heard.value;
      if (heard === null || heard.at !== at || !heard.playing) this.#heard.value = { preview, at, playing: true };
      frame = requestAnimationFrame(look);
    };
    this.#stop = () => {
      cancelAnimationFrame(frame);
      for (const each of tones) each?.disconnect();
    };
    this.#heard.value = { preview, at: -1, playing: true };
    look();
  }

  /** Shows the next moment at which something begins, or the one before; without a sound. */
  step(preview: Preview, by: 1 | -1): void {
    const before = this.#heard.value;
    this.silence();
    const at = nextThat(preview.moments, before?.preview === preview ? before.at : -1, by);
    this.#heard.value = { preview, at, playing: false };
  }

  /** Stops the sound and stays where it is. */
  silence(): void {
    this.#stop();
    this.#stop = () => undefined;
    const heard = this.#heard.value;
    if (heard?.playing === true) this.#heard.value = { ...heard, playing: false };
  }

  /** Forgets the phrase: the text has changed. */
  forget(): void {
    this.silence();
    this.#heard.value = null;
  }
}

function tone(audio: AudioContext, moment: PreviewMoment, at: number): OscillatorNode | null {
  if (moment.click === 'none') return null;
  const [hertz, seconds] = CLICKS[moment.click];
  const tone = new OscillatorNode(audio, { frequency: hertz, type: 'triangle' });
  const level = new GainNode(audio, { gain: 0 });
  level.gain.setValueAtTime(0.7, at);
  level.gain.exponentialRampToValueAtTime(0.001, at + seconds);
  tone.connect(level).connect(audio.destination);
  tone.start(at);
  tone.stop(at + seconds);
  return tone;
}

/** The last moment that has come by `now`; -1 before the first. */
export function lastBefore(moments: readonly PreviewMoment[], now: number): number {
  return moments.findLastIndex((moment) => moment.seconds <= now);
}

/** The nearest moment after `at` (or before it) at which something of the text begins; `at` when there is none. */
export function nextThat(moments: readonly PreviewMoment[], at: number, by: 1 | -1): number {
  for (let n = at + by; n >= 0 && n < moments.length; n += by) {
    if ((moments[n]?.lines.length ?? 0) > 0) return n;
  }
  return at;
}
