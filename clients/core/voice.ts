// The browser's voice: one call at a time, cut off at its time, measured. What a browser lacks is no voice at all.
import type { Cancel, Platform } from './platform';
import { Pace, RATES, type Rate } from './calls';

/** A voice of this device. */
export interface DeviceVoice {
  /** What the browser calls it. */
  name: string;
  /** Its language, as BCP 47 has it. */
  lang: string;
}

/** How it is to speak. */
export interface Manner {
  rate: Rate;
  /** The voice's name; empty for the browser's own choice of an English one. */
  voice: string;
}

/** Who speaks. */
export class Voice {
  readonly pace = new Pace();
  #saying: SpeechSynthesisUtterance | null = null;
  #cut: Cancel = () => undefined;

  constructor(private readonly platform: Platform) {}

  /** True when this browser can speak. */
  get can(): boolean {
    return 'speechSynthesis' in window && 'SpeechSynthesisUtterance' in window;
  }

  /** The voices that there are now, by language and name. */
  get all(): DeviceVoice[] {
    const voices = this.can ? window.speechSynthesis.getVoices() : [];
    return voices
      .map(({ name, lang }) => ({ name, lang: lang.replace('_', '-') }))
      .sort((one, other) => one.lang.localeCompare(other.lang) || one.name.localeCompare(other.name));
  }

  /** Calls `changed` when the device has found its voices, until what is returned is called. */
  listen(changed: () => void): Cancel {
    if (!this.can) return () => undefined;
    window.speechSynthesis.addEventListener('voiceschanged', changed);
    return () => window.speechSynthesis.removeEventListener('voiceschanged', changed);
  }

  /** Says it instead of what is being said; what is not over in `withinUs`, microseconds, is cut off and told to `cut`. */
  say(text: string, { rate, voice }: Manner, withinUs = Infinity, cut: () => void = () => undefined): void {
    if (!this.can) return;
    this.silence();
    const call = new SpeechSynthesisUtterance(text);
    const found = window.speechSynthesis.getVoices().find(({ name }) => name === voice);
    call.lang = found?.lang ?? 'en';
    if (found !== undefined) call.voice = found;
    call.rate = RATES[rate];
    const askedUs = this.platform.nowUs();
    call.addEventListener('end', () => {
      if (this.#saying !== call) return;
      this.pace.said(text, rate, this.platform.nowUs() - askedUs);
      this.#over();
    });
    call.addEventListener('error', () => this.#saying === call && this.#over());
    this.#saying = call;
    window.speechSynthesis.speak(call);
    if (withinUs === Infinity) return;
    this.#cut = this.platform.after(withinUs / 1_000, () => {
      if (this.#saying !== call) return;
      // It took longer than was thought: the next one like it is not begun.
      this.pace.said(text, rate, (this.platform.nowUs() - askedUs) * TOO_LONG);
      this.silence();
      cut();
    });
  }

  /** Says no more. */
  silence(): void {
    this.#over();
    if (this.can) window.speechSynthesis.cancel();
  }

  #over(): void {
    this.#cut();
    this.#saying = null;
  }
}

/** What was cut off would have taken longer still, by so much as far as one can tell. */
const TOO_LONG = 1.25;
