// Makes a round heard: clicks and sounds on the audio clock, calls by the device's voice. What is played ends at once.
import { CLICKS } from '../core/clicks';
import type { SoundClip } from '../core/wire';
import type { Heard, Round } from './plan';

/** So far ahead sounds are handed to the audio clock, and so often that is looked after, seconds and milliseconds. */
const AHEAD_S = 0.25;
const EVERY_MS = 60;
/** From the touch until the first beat, seconds: what is heard first must not be late. */
const LEAD_S = 0.15;

/** How loud the click is beside the sounds. */
const CLICK_LEVEL = 0.35;
/** All sounds are equally loud and soft enough to meet; alone on a phone they are played so much louder. */
const SOUND_LEVEL = 2.5;

/** Plays rounds. */
export class Player {
  #audio: AudioContext | null = null;
  #out: GainNode | null = null;
  readonly #sounds = new Map<string, { buffer: AudioBuffer; gain: number; earlyS: number }>();
  readonly #nodes = new Set<AudioScheduledSourceNode>();
  #timer: ReturnType<typeof setInterval> | null = null;
  #beginS = 0;
  #ended: (() => void) | null = null;

  /** True while something is played. */
  get plays(): boolean {
    return this.#timer !== null;
  }

  /** Opens the sound. Called inside a touch: a browser lets only that start it. */
  wake(): void {
    this.#audio ??= new AudioContext({ latencyHint: 'interactive' });
    void this.#audio.resume();
  }

  /** Takes the sounds of a fight. One that this browser cannot read is not heard. */
  async take(clips: readonly SoundClip[]): Promise<void> {
    const audio = this.#audio;
    if (audio === null) return;
    const read = async ({ name, flac, gain_db, early_us }: SoundClip): Promise<void> => {
      if (this.#sounds.has(name)) return;
      const bytes = Uint8Array.from(atob(flac), (letter) => letter.charCodeAt(0));
      const buffer = await audio.decodeAudioData(bytes.buffer).catch(() => null);
      if (buffer !== null) this.#sounds.set(name, { buffer, gain: amplitude(gain_db), earlyS: early_us / 1e6 });
    };
    await Promise.all(clips.map(read));
  }

  /** Plays a round from its beginning; `ended` is called once when it is over, not when it is stopped. */
  play(round: Round, ended: () => void): void {
    this.stop();
    const audio = this.#audio;
    if (audio === null) return;
    this.#out = new GainNode(audio, { gain: 1 });
    // Whatever meets: the loudest is turned down, and nothing is cut.
    this.#out.connect(new DynamicsCompressorNode(audio, { threshold: -6, ratio: 12 })).connect(audio.destination);
    this.#beginS = audio.currentTime + LEAD_S;
    this.#ended = ended;
    let next = 0;
    const look = (): void => {
      const nowS = audio.currentTime - this.#beginS;
      for (let heard = round.heard[next]; heard !== undefined; heard = round.heard[next]) {
        if (heard.atUs / 1e6 > nowS + AHEAD_S + this.#early(heard)) break;
        this.#hear(audio, heard, nowS);
        next += 1;
      }
      if (nowS * 1e6 >= round.lengthUs) this.#end();
    };
    this.#timer = setInterval(look, EVERY_MS);
    look();
  }

  /** Where it is, microseconds from the beginning of the round; negative before. */
  nowUs(): number {
    return this.#audio === null ? 0 : (this.#audio.currentTime - this.#beginS) * 1e6;
  }

  /** Silence, at once. */
  stop(): void {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
    this.#ended = null;
    this.#out?.disconnect();
    this.#out = null;
    for (const node of this.#nodes) node.stop();
    this.#nodes.clear();
    if (canSpeak()) window.speechSynthesis.cancel();
  }

  #end(): void {
    const ended = this.#ended;
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
    ended?.();
  }

  #early(heard: Heard): number {
    return heard.kind === 'sound' ? (this.#sounds.get(heard.name)?.earlyS ?? 0) : 0;
  }

  #hear(audio: AudioContext, heard: Heard, nowS: number): void {
    const atS = this.#beginS + heard.atUs / 1e6;
    if (heard.kind === 'call') say(heard.text, Math.max(0, heard.atUs / 1e6 - nowS), () => this.plays);
    else if (heard.kind === 'click') this.#click(audio, atS, heard.accent);
    else this.#sound(audio, atS, heard.name, heard.gainDb);
  }

  #click(audio: AudioContext, atS: number, accent: boolean): void {
    const { hertz, seconds } = CLICKS[accent ? 'accent' : 'beat'];
    const level = new GainNode(audio, { gain: 0 });
    level.gain.setValueAtTime(CLICK_LEVEL, atS);
    level.gain.exponentialRampToValueAtTime(0.001, atS + seconds);
    const tone = new OscillatorNode(audio, { frequency: hertz, type: 'triangle' });
    this.#start(tone, level, atS);
    tone.stop(atS + seconds);
  }

  #sound(audio: AudioContext, atS: number, name: string, gainDb: number): void {
    const sound = this.#sounds.get(name);
    if (sound === undefined) return;
    const level = new GainNode(audio, { gain: SOUND_LEVEL * sound.gain * amplitude(gainDb) });
    this.#start(new AudioBufferSourceNode(audio, { buffer: sound.buffer }), level, atS - sound.earlyS);
  }

  #start(node: AudioScheduledSourceNode, level: GainNode, atS: number): void {
    if (this.#out === null) return;
    node.connect(level).connect(this.#out);
    node.start(Math.max(0, atS));
    this.#nodes.add(node);
    node.addEventListener('ended', () => this.#nodes.delete(node));
  }
}

/** True when this browser can speak. */
export const canSpeak = (): boolean => 'speechSynthesis' in window && 'SpeechSynthesisUtterance' in window;

function say(text: string, inS: number, still: () => boolean): void {
  if (!canSpeak()) return;
  setTimeout(() => {
    if (!still()) return;
    const call = new SpeechSynthesisUtterance(text);
    call.rate = 1.2;
    window.speechSynthesis.speak(call);
  }, inS * 1_000);
}

const amplitude = (decibels: number): number => 10 ** (decibels / 20);
