// The pocket guard: the page goes dark and HOLD takes a slide across it instead of a touch, so that a pocket cannot press
// it. Only its own switch puts it on, a reload or a slide takes it off, and it is never on by itself. Plain DOM like
// HOLD, outside of whatever draws the rest.
import { setText } from './hold';
import type { View } from './model';
import { vitalsOf } from './vitals';
import { onWords, words } from './words';

/** This much of HOLD's width must be slid across. */
export const SLIDE = 0.5;
/** From the keyboard a guarded HOLD takes two presses, the second within this time. */
export const SECOND_PRESS_MS = 4_000;
/** What comes sooner after a finger is the browser's echo of it. */
const AFTER_TOUCH_MS = 700;

/** The guard. */
export class Guard {
  #on = false;
  #asked = false;
  #pressedMs = -Infinity;
  #from: number | null = null;
  #touchedMs = -Infinity;
  readonly #changed: (() => void)[] = [];

  /** True while HOLD takes a slide. */
  get on(): boolean {
    return this.#on;
  }

  /** True while taking it off has been asked for once. */
  get asked(): boolean {
    return this.#asked;
  }

  /** Calls `changed` now and at every change. */
  listen(changed: () => void): void {
    this.#changed.push(changed);
    changed();
  }

  /** Puts it on, or takes it off at once. */
  turn(on: boolean): void {
    this.#on = on;
    this.#asked = false;
    this.#from = null;
    this.#pressedMs = -Infinity;
    this.#tell();
  }

  /** Taking it off takes two presses, in two places. */
  ask(asked: boolean): void {
    this.#asked = asked;
    this.#tell();
  }

  /** A finger came down on a guarded HOLD, at `x`, at `ms`. */
  down(x: number, ms: number): void {
    this.#from = x;
    this.#touchedMs = ms;
  }

  /** It moved to `x`, on a HOLD that is `width` wide. True when that was a slide: HOLD is meant. */
  moved(x: number, width: number): boolean {
    if (!this.#on || this.#from === null || Math.abs(x - this.#from) < width * SLIDE) return false;
    this.turn(false);
    return true;
  }

  /** The finger is gone, at `ms`. */
  up(ms: number): void {
    this.#from = null;
    this.#touchedMs = ms;
  }

  /**
   * A press of a key or a screen reader, at `ms`. True when it was the second: HOLD is meant. A browser may send the same
   * after a touch; that is none.
   */
  pressed(ms: number): boolean {
    if (ms - this.#touchedMs < AFTER_TOUCH_MS) return false;
    const second = ms - this.#pressedMs <= SECOND_PRESS_MS;
    this.#pressedMs = ms;
    if (second) this.turn(false);
    return second;
  }

  #tell(): void {
    for (const changed of this.#changed) changed();
  }
}

/** Puts the switch at the end of the vitals, and the dark sheet over everything but HOLD. */
export function mountGuard(guard: Guard, vitals: HTMLElement, body: HTMLElement): (view: View) => void {
  const turnOn = button(vitals, () => guard.turn(true));
  turnOn.id = 'guard-on';
  const dark = body.appendChild(document.createElement('section'));
  dark.id = 'guard';
  const title = dark.appendChild(document.createElement('h2'));
  const says = dark.appendChild(document.createElement('p'));
  const text = dark.appendChild(document.createElement('p'));
  const ask = button(dark, () => guard.ask(true));
  const sure = button(dark, () => guard.turn(false));
  onWords(() => {
    dark.setAttribute('aria-label', words.guardTitle);
    setText(turnOn, words.guardShort);
    turnOn.setAttribute('aria-label', words.guardOn);
    setText(title, words.guardTitle);
    setText(text, words.guardText);
    setText(ask, words.guardOff);
    setText(sure, words.guardOffSure);
  });
  sure.className = 'sure';
  guard.listen(() => {
    dark.hidden = !guard.on;
    turnOn.hidden = guard.on;
    ask.hidden = guard.asked;
    sure.hidden = !guard.asked;
    body.dataset['guarded'] = String(guard.on);
  });
  return (view) => {
    const { stage, link } = vitalsOf(view);
    setText(says, view.link === 'linked' ? `${stage} · ${link}` : words.lostTitle);
  };
}

function button(place: HTMLElement, press: () => void): HTMLButtonElement {
  const made = place.appendChild(document.createElement('button'));
  made.type = 'button';
  made.addEventListener('click', press);
  return made;
}
