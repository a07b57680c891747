// What is called into an ear ahead of an act, and whether there is time for it. Pure: it knows no voice. A call is said in
// the words of the score, so in its language, the act first: whoever hears no more than the first word knows what to do.
import type { CueMove, CueWalk, PointView } from './wire';

/** How fast the voice speaks: what the browser's `rate` is set to. */
export const RATES = { slow: 0.9, usual: 1.2, fast: 1.7 } as const;
/** A speed of the voice. */
export type Rate = keyof typeof RATES;

/**
 * A call has ended this long before its act is due, microseconds, so that a body has time: what it takes to recognise
 * something and begin (384 ms, Laming 1968, as the vocabulary's head has it from Kosinski's review), rounded up.
 */
export const BODY_US = 400_000;
/** A voice begins this long after it was asked, microseconds (from memory; the device's own is learnt). */
const BEGINS_US = 200_000;
/** A character takes a voice this long at rate 1, microseconds: 170 words a minute of five letters (from memory). */
const CHARACTER_US = 65_000;
/** The most and the least that a device's voice is taken to be slower than that. */
const SLOWEST = 4;
const FASTEST = 0.5;

/** Ways to call a move, the fullest first: what to do, with whom, and with `attack` what the partner does. */
export function callsOf({ part, move }: CueMove, attack: boolean): string[] {
  if (part === 'answer' && move.reply !== null) {
    const short = `${move.reply}, ${spoken(move.who)}`;
    return attack ? [`${short}, ${move.action}`, short, move.reply] : [short, move.reply];
  }
  if (part === 'act') return move.to === null ? [move.action] : [`${move.action}, ${spoken(move.to)}`, move.action];
  return [`${move.action}, ${spoken(move.who)}`, move.action];
}

/** Ways to call a walk, the fullest first: where to, counted from the middle of the setting line or from where one stands. */
export function callsOfWalk([first]: readonly CueWalk[]): string[] {
  if (first === undefined) return [];
  const { to, further } = first.walk;
  const way = [across(to), along(to)].filter((each) => each !== '');
  const where = further ? `${way.join(', ')} further` : `to ${way.length === 0 ? 'the middle' : way.join(', ')}`;
  return [`walk ${where}`, 'walk'];
}

const across = ({ x }: PointView): string => (x === 0 ? '' : `${Math.abs(x)} stage ${x > 0 ? 'left' : 'right'}`);
const along = ({ y }: PointView): string => (y === 0 ? '' : `${Math.abs(y)} ${y > 0 ? 'up' : 'down'}stage`);

/** A name as a voice reads it: what is written in capitals alone may be spelt out letter by letter. */
export function spoken(name: string): string {
  if (name !== name.toLocaleUpperCase()) return name;
  return name.replace(/(\p{L})([\p{L}\p{M}]*)/gu, (_, first: string, rest: string) => first + rest.toLocaleLowerCase());
}

/** How long this device's voice takes, learnt from what it has said. */
export class Pace {
  #slower = 1;

  /** How long a call takes from the moment it is asked for, microseconds. */
  takesUs(call: string, rate: Rate): number {
    return this.#slower * usualUs(call, rate);
  }

  /** A call was said in so long, microseconds. A slower one counts at once, a quicker one by and by. */
  said(call: string, rate: Rate, tookUs: number): void {
    const slower = Math.min(SLOWEST, Math.max(FASTEST, tookUs / usualUs(call, rate)));
    this.#slower = slower > this.#slower ? slower : this.#slower + (slower - this.#slower) / 4;
  }

  /** A call was not begun. What is never begun cannot show that the voice has become quicker, so it is trusted again. */
  leftOut(): void {
    this.#slower = Math.min(this.#slower, 1 + (this.#slower - 1) * 0.9);
  }
}

function usualUs(call: string, rate: Rate): number {
  return BEGINS_US + (call.length * CHARACTER_US) / RATES[rate];
}

/** The fullest of `calls` that ends in time for an act `inUs` from now, microseconds; nothing where none does. */
export function fitting(calls: readonly string[], inUs: number, rate: Rate, pace: Pace): string | null {
  return calls.find((call) => pace.takesUs(call, rate) + BODY_US <= inUs) ?? null;
}
