// Click, spoken call and vibration on this device: all off until the person asks for them. The click is placed on the
// audio clock, which is mapped to the page's clock by the pair of times that the output itself gives; what is armed can
// be taken back. A pattern ends before one's next act, and a call before the act that it calls.
import { BODY_US, callsOf, callsOfWalk, fitting } from './calls';
import { PATTERNS, feelOf, fitted, isMine, lengthOf, type Feel } from './feel';
import { CLICKS } from './clicks';
import type { Platform } from './platform';
import { nextActOf } from './reading';
import type { Shown } from './scheduler';
import type { Senses } from './session';
import { USUAL, type Settings } from './settings';
import { Voice, type Manner } from './voice';
import { HOLD_NOTES, type Cue } from './wire';

/** What comes next is called when it is no more beats, or no longer, away than this: earlier, it would be forgotten. */
const CALL_AHEAD = 4;
const CALL_AHEAD_US = 3_000_000;

/** The senses of this device. */
export class DeviceSenses implements Senses {
  #audio: AudioContext | null = null;
  readonly #armed = new Map<number, OscillatorNode>();
  #chosen: Settings = USUAL;
  /** The voice that calls. */
  readonly voice: Voice;
  #called = '';
  /** Calls of a run for which there was no time. */
  #left = { run: -1, calls: 0 };
  /** Until when a pattern of one's own act goes on, local microseconds: nothing less takes its place. */
  #mineUntilUs = -Infinity;
  /** True once something was shaken that may still go on. */
  #shakes = false;

  constructor(private readonly platform: Platform) {
    this.voice = new Voice(platform);
  }

  /** Does as the person chose. Called inside the tap that chose it: a browser lets only a tap start sound. */
  follow(chosen: Settings): void {
    const before = this.#chosen;
    this.#chosen = chosen;
    if (chosen.click && !before.click) this.#openAudio();
    if (chosen.hold === 'sound' && before.hold !== 'sound') this.#openAudio();
    if (!chosen.click && before.click) this.#hush();
    if (chosen.shake === 'off' && before.shake !== 'off') this.#still();
    if (!chosen.voice && before.voice) this.voice.silence();
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

  /** True when this browser can sound. */
  get canSound(): boolean {
    return 'AudioContext' in window;
  }

  /** How many calls of the last run were left out, because there was no time for them. */
  get callsLeftOut(): number {
    return this.#left.calls;
  }

  arm(cue: Cue, atLocalUs: number): void {
    this.disarm(cue);
    const audio = this.#audio;
    if (!this.#chosen.click || audio === null || audio.state !== 'running' || cue.click === 'none') return;
    const at = audioTime(audio, atLocalUs, this.platform.nowUs());
    if (at < audio.currentTime) return;
    const tone = sound(audio, CLICKS[cue.click], at);
    this.#armed.set(cue.cue, tone);
    tone.addEventListener('ended', () => this.#armed.get(cue.cue) === tone && this.#armed.delete(cue.cue));
  }

  disarm(cue: Cue): void {
    const tone = this.#armed.get(cue.cue);
    if (tone !== undefined) takeBack(tone);
    this.#armed.delete(cue.cue);
  }

  shown({ cue, late_us, again }: Shown, nextInUs: number | null): void {
    if (this.#left.run !== cue.run) this.#left = { run: cue.run, calls: 0 };
    if (late_us !== null || again) return;
    this.#shake(cue, nextInUs);
    this.#call(cue, nextInUs);
  }

  silence(): void {
    this.#hush();
    this.#still();
    this.voice.silence();
  }

  // Nothing takes it back: it is over in little more than two seconds.
  callHold(): boolean {
    const { hold } = this.#chosen;
    const audio = this.#audio;
    const sounds = hold === 'sound' && audio?.state === 'running';
    if (sounds && audio !== null) callOut(audio);
    const shakes = hold !== 'off' && this.canShake && navigator.vibrate([...PATTERNS.hold]);
    return sounds || shakes;
  }

  /** Lets a pattern be felt by itself, whatever is chosen. Inside a tap, as all that is tried. */
  tryFeel(feel: Feel): void {
    if (!this.canShake) return;
    this.#shakes = true;
    navigator.vibrate([...PATTERNS[feel]]);
  }

  /** Lets a click be heard by itself. */
  tryClick(click: keyof typeof CLICKS): void {
    void this.#awake().then((audio) => sound(audio, CLICKS[click], audio.currentTime));
  }

  /** Lets a hold's call be heard and felt. Nobody is held by it. */
  tryHold(): void {
    this.tryFeel('hold');
    if (this.canSound) void this.#awake().then(callOut);
  }

  /** Says a call, as one is said in a run. */
  tryCall(call: string): void {
    this.voice.say(call, this.#manner);
  }

  #openAudio(): void {
    // A phone that was locked may leave a context that claims to run and stands still; a new one is cheap.
    this.#hush();
    void this.#audio?.close();
    this.#audio = new AudioContext({ latencyHint: 'interactive' });
    void this.#audio.resume();
  }

  // The context, running. One that waits for a touch gets it now.
  async #awake(): Promise<AudioContext> {
    if (this.#audio?.state !== 'running') this.#openAudio();
    const audio = this.#audio;
    if (audio === null) throw new Error('no audio was opened');
    await audio.resume();
    return audio;
  }

  #shake(cue: Cue, nextInUs: number | null): void {
    const feel = feelOf(cue);
    if (feel === null || !this.canShake || !this.#wants(feel)) return;
    const nowUs = this.platform.nowUs();
    if (!isMine(feel) && nowUs < this.#mineUntilUs) return;
    const pattern = fitted(PATTERNS[feel], nextInUs === null ? Infinity : nextInUs / 1_000);
    if (pattern.length === 0) return;
    this.#mineUntilUs = isMine(feel) ? nowUs + lengthOf(pattern) * 1_000 : -Infinity;
    this.#shakes = true;
    navigator.vibrate(pattern);
  }

  #wants(feel: Feel): boolean {
    const { shake } = this.#chosen;
    if (shake === 'off' || feel === 'hold') return false;
    return feel === 'beat' ? shake === 'beats' : this.#chosen[feel];
  }

  get #manner(): Manner {
    return { rate: this.#chosen.rate, voice: this.#chosen.speaker };
  }

  // What comes next is called once, on the beat that brings it near, if its call ends in time. Later there is less time.
  #call(cue: Cue, nextInUs: number | null): void {
    const { voice, partner, rate } = this.#chosen;
    const next = nextActOf(cue);
    if (!voice || !this.voice.can || next === null) return;
    if (next.beats > CALL_AHEAD && (nextInUs === null || nextInUs > CALL_AHEAD_US)) return;
    const name = `${cue.generation}/${next.at}`;
    if (name === this.#called) return;
    this.#called = name;
    // A step comes when the captain makes it, so there is no time that a call could miss.
    const inUs = cue.due_us === null ? Infinity : (nextInUs ?? 0);
    const [move] = next.moves;
    const calls = move === undefined ? callsOfWalk(next.walks) : callsOf(move, partner);
    const call = fitting(calls, inUs, rate, this.voice.pace);
    if (call === null) this.#leaveOut();
    else this.voice.say(call, this.#manner, inUs - BODY_US, () => this.#leaveOut());
  }

  #leaveOut(): void {
    this.#left = { ...this.#left, calls: this.#left.calls + 1 };
    this.voice.pace.leftOut();
  }

  #hush(): void {
    for (const tone of this.#armed.values()) takeBack(tone);
    this.#armed.clear();
  }

  #still(): void {
    if (this.#shakes && this.canShake) navigator.vibrate(0);
    this.#shakes = false;
    this.#mineUntilUs = -Infinity;
  }
}

function takeBack(tone: OscillatorNode): void {
  tone.stop();
  tone.disconnect();
}

function sound(audio: AudioContext, click: { hertz: number; seconds: number }, at: number): OscillatorNode {
  const tone = new OscillatorNode(audio, { frequency: click.hertz, type: 'triangle' });
  const level = new GainNode(audio, { gain: 0 });
  level.gain.setValueAtTime(0.9, at);
  level.gain.exponentialRampToValueAtTime(0.001, at + click.seconds);
  tone.connect(level).connect(audio.destination);
  tone.start(at);
  tone.stop(at + click.seconds);
  return tone;
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
