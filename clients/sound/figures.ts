// Figures as the sound page writes them.
import { milliseconds } from '../core/vitals';
import { words } from '../core/words/sound';
import { decimal } from '../core/words/decimal';

/** The lowest level that is not called silence. */
const SILENCE_DB = -100;

/** A length of time, with its sign where it matters: `−12 ms`, `+3.5 ms`. */
export function signedMs(us: number): string {
  const ms = Math.round(us / 100) / 10;
  return words.sounds.ms(`${ms < 0 ? '−' : '+'}${Math.abs(ms)}`);
}

/** A length of time without a sign. */
export function ms(us: number): string {
  return words.sounds.ms(milliseconds(us));
}

/** A change of level: `−3.5 dB`. */
export function signedDb(db: number): string {
  const tenths = Math.round(db * 10) / 10;
  return words.sounds.db(`${tenths < 0 ? '−' : '+'}${Math.abs(tenths)}`);
}

/** A level of full scale. */
export function level(db: number): string {
  return db <= SILENCE_DB ? words.sounds.silence : words.sounds.db(`−${decimal(Math.abs(Math.min(0, db)), 1)}`);
}

/** How late or early something was. */
export function lateness(us: number): string {
  if (Math.abs(us) < 50) return words.sounds.onTime;
  const figure = milliseconds(Math.abs(us));
  return us < 0 ? words.sounds.earlyBy(figure) : words.sounds.lateBy(figure);
}

/** A time in a phrase: `0:04.250`. */
export function clock(us: number): string {
  const whole = Math.round(Math.abs(us) / 1_000);
  const minutes = Math.floor(whole / 60_000);
  const seconds = ((whole % 60_000) / 1_000).toFixed(3).padStart(6, '0');
  return `${us < 0 ? '−' : ''}${minutes}:${seconds}`;
}
