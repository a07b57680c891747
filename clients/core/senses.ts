// Click, spoken call and vibration on this device: all off until the person asks for them. The click is placed on the
// audio clock, which is mapped to the page's clock by the pair of times that the output itself gives; what is armed can
// be taken back.
import type { Platform } from './platform';
import { beatsToNext, mineFirst } from './reading';
import type { Shown } from './scheduler';
import type { Senses } from './session';
import { USUAL, type Settings } from './settings';
import { HOLD_NOTES, type Cue } from './wire';
import { words } from './words';

/** Pitch and length of the two clicks. Short and dry, so that they cannot be taken for steel. */
const CLICKS = { accent: { hertz: 1_568, seconds: 0.04 }, beat: { hertz: 1_047, seconds: 0.03 } } as const;
/** Vibration, milliseconds: one long stroke is mine, two short ones are theirs, a tick is a beat. */
export const SHAKES = { mine: [140], theirs: [35, 60, 35], beat: [15] } as const;
/** The vibration of a hold's call, milliseconds: three strokes longer than any of a move's. */
export const HOLD_SHAKE = [400, 100, 400, 100, 400] as const;
/** What comes next is called when it is no more beats away than this: earlier, it would be forgotten again. */
const CALL_AHEAD = 4;

/** The senses of this device. */
export class DeviceSenses implements Senses {
  #audio: AudioContext | null = null;
  readonly #armed = new Map<number, OscillatorNode>();
  #chosen: Settings = USUAL;
  #called = '';
  /** True once something was shaken that may still go on. */
  #shakes = false;

  constructor(private readonly platform: Platform) {}

  /** Does as the person chose. Called inside the tap that chose it: a browser lets only a tap start sound. */
  follow(chosen: Settings): void {
    const before = this.#chosen;
    this.#chosen = chosen;
    if (chosen.click && !before.click) this.#openAudio();
    if (chosen.hold === 'sound' && before.hold !== 'sound') this.#openAudio();
    if (!chosen.click && before.click) this.#hush();
    if (chosen.shake === 'off' && before.shake !== 'off') this.#still();
    if (!chosen.voice && before.voice) this.#beQuiet();
  }

  /** After a reload, a lock or a call the sound sleeps until the screen is touched; the first touch wakes it. */
  wakeByTouch(): void {
    window.addEventListener('pointerdown', () => (this.sleeps || this.holdSleeps) && this.#openAudio(), {
      capture: true,
    });
  }

  /** True while a click was asked for and the browser waits for a touch. */
  get sleeps(): boolean {
    return this.#chosen.click && this.#audio?.state !== 'running';
  }

  /** True while the call of a hold would not sound here, because the browser waits for a touch. */
  get holdSleeps(): boolean {
    return this.#chosen.hold === 'sound' && this.#audio?.state !== 'running';
  }

  /** True when this device lets a page vibrate it, as far as it says. */
  get canShake(): boolean {
    return 'vibrate' in navigator;
  }

  /** True when this browser can speak. */
  get canSpeak(): boolean {
    return 'speechSynthesis' in window && 'SpeechSynthesisUtterance' in window;
  }

  arm(cue: Cue, atLocalUs: number): void {
    this.disarm(cue);
    const audio = this.#audio;
    if (!this.#chosen.click || audio === null || audio.state !== 'running' || cue.click === 'none') return;
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
    this.#armed.set(cue.cue, tone);
    tone.addEventListener('ended', () => this.#armed.get(cue.cue) === tone && this.#armed.delete(cue.cue));
  }

  disarm(cue: Cue): void {
    const tone = this.#armed.get(cue.cue);
    if (tone !== undefined) takeBack(tone);
    this.#armed.delete(cue.cue);
  }

  shown({ cue, late_us, again }: Shown): void {
    if (late_us !== null || again) return;
    this.#shake(cue);
    this.#call(cue);
  }

  silence(): void {
    this.#hush();
    this.#still();
    this.#beQuiet();
  }

  // Nothing takes it back: it is over in little more than a second.
  callHold(): boolean {
    const { hold } = this.#chosen;
    const audio = this.#audio;
    const sounds = hold === 'sound' && audio?.state === 'running';
    if (sounds && audio !== null) callOut(audio);
    const shakes = hold !== 'off' && this.canShake && navigator.vibrate([...HOLD_SHAKE]);
    return sounds || shakes;
  }

  #openAudio(): void {
    // A phone that was locked may leave a context that claims to run and stands still; a new one is cheap.
    this.#hush();
    void this.#audio?.close();
    this.#audio = new AudioContext({ latencyHint: 'interactive' });
    void this.#audio.resume();
  }

  #shake(cue: Cue): void {
    const { shake } = this.#chosen;
    if (shake === 'off' || !this.canShake) return;
    this.#shakes = true;
    const mine = cue.moves.some((move) => move.part !== 'watch');
    if (mine) navigator.vibrate([...SHAKES.mine]);
    else if (cue.moves.length > 0) navigator.vibrate([...SHAKES.theirs]);
    else if (shake === 'beats' && cue.click !== 'none') navigator.vibrate([...SHAKES.beat]);
  }

  // What comes next is called once, on the beat that brings it near.
  #call(cue: Cue): void {
    const next = mineFirst(cue.next)[0];
    const beats = beatsToNext(cue);
    if (!this.#chosen.voice || !this.canSpeak || next === undefined || beats === null || beats > CALL_AHEAD) return;
    const name = `${cue.generation}/${next.move.at_ticks}`;
    if (name === this.#called) return;
    this.#called = name;
    window.speechSynthesis.cancel();
    const call = new SpeechSynthesisUtterance(words.called(next));
    call.rate = 1.2;
    window.speechSynthesis.speak(call);
  }

  #hush(): void {
    for (const tone of this.#armed.values()) takeBack(tone);
    this.#armed.clear();
  }

  #still(): void {
    if (this.#shakes && this.canShake) navigator.vibrate(0);
    this.#shakes = false;
  }

  #beQuiet(): void {
    if (this.canSpeak) window.speechSynthesis.cancel();
  }
}

function takeBack(tone: OscillatorNode): void {
  tone.stop();
  tone.disconnect();
}

function callOut(audio: AudioContext): void {
  const level = new GainNode(audio, { gain: 0.9 });
  level.connect(audio.destination);
  let at = audio.currentTime;
  for (const [hertz, seconds] of HOLD_NOTES) {
    const tone = new OscillatorNode(audio, { frequency: hertz, type: 'triangle' });
    tone.connect(level);
    tone.start(at);
    at += seconds;
    tone.stop(at);
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
