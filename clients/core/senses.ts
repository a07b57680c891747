// Click and vibration on this device: both off until the person asks for them. The click is placed on the audio clock,
// which is mapped to the page's clock by the pair of times that the output itself gives; what is armed can be taken back.
import type { Platform } from './platform';
import type { Shown } from './scheduler';
import type { Senses } from './session';
import type { Cue } from './wire';

/** Pitch and length of the two clicks. Short and dry, so that they cannot be taken for steel. */
const CLICKS = { accent: { hertz: 1_568, seconds: 0.04 }, beat: { hertz: 1_047, seconds: 0.03 } } as const;
/** Vibration, milliseconds: what is mine is felt longer than a beat. */
const SHAKE_MS = { beat: 25, mine: 90 } as const;

/** The senses of this device. */
export class DeviceSenses implements Senses {
  #audio: AudioContext | null = null;
  #armed = new Set<OscillatorNode>();
  #shakes = false;
  #sounds = false;

  constructor(private readonly platform: Platform) {}

  /** Switches the click on or off. Call it inside the tap itself: a browser lets only a tap start sound. */
  sound(on: boolean): void {
    this.#sounds = on;
    if (!on) {
      this.silence();
      return;
    }
    // A phone that was locked may leave a context that claims to run and stands still; a new one is cheap.
    void this.#audio?.close();
    this.#audio = new AudioContext({ latencyHint: 'interactive' });
    void this.#audio.resume();
  }

  /** Switches vibration on or off. */
  shake(on: boolean): void {
    this.#shakes = on;
    if (!on) this.#still();
  }

  /** True when this device lets a page vibrate it, as far as it says. */
  get canShake(): boolean {
    return 'vibrate' in navigator;
  }

  arm(cue: Cue, atLocalUs: number): void {
    const audio = this.#audio;
    if (!this.#sounds || audio === null || audio.state !== 'running' || cue.click === 'none') return;
    const at = audioTime(audio, atLocalUs, this.platform.nowUs());
    if (at < audio.currentTime) return;
    const { hertz, seconds } = CLICKS[cue.click];
    const tone = new OscillatorNode(audio, { frequency: hertz, type: 'triangle' });
    const level = new GainNode(audio, { gain: 0 });
    level.gain.setValueAtTime(0.9, at);
    level.gain.exponentialRampToValueAtTime(0.001, at + seconds);
    tone.connect(level).connect(audio.destination);
    tone.start(at);
    tone.stop(at + seconds);
    this.#armed.add(tone);
    tone.addEventListener('ended', () => this.#armed.delete(tone));
  }

  shown({ cue, late_us }: Shown): void {
    if (!this.#shakes || !this.canShake || late_us !== null) return;
    const mine = cue.moves.some((move) => move.part !== 'watch');
    if (mine) navigator.vibrate(SHAKE_MS.mine);
    else if (cue.click !== 'none') navigator.vibrate(SHAKE_MS.beat);
  }

  silence(): void {
    for (const tone of this.#armed) {
      tone.stop();
      tone.disconnect();
    }
    this.#armed.clear();
    this.#still();
  }

  #still(): void {
    if (this.#shakes && this.canShake) navigator.vibrate(0);
  }
}

// The output's own pair of times is steadier than `currentTime`, which moves in steps of several milliseconds.
function audioTime(audio: AudioContext, atLocalUs: number, nowUs: number): number {
  const { contextTime, performanceTime } = audio.getOutputTimestamp();
  if (contextTime === undefined || performanceTime === undefined || performanceTime === 0) {
    return audio.currentTime + (atLocalUs - nowUs) / 1e6;
  }
  return contextTime + (atLocalUs / 1_000 - performanceTime) / 1_000;
}
