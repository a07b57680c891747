// A moment of the wall clock, as this device writes it.

/** Day and time of a moment in RFC 3339; what cannot be read stands as it is. */
export function dayAndTime(utc: string): string {
  const at = new Date(utc);
  return Number.isNaN(at.getTime()) ? utc : at.toLocaleString([], { dateStyle: 'medium', timeStyle: 'short' });
}

/** The time of day of a moment, hours and minutes. */
export function timeOfDay(at: Date): string {
  return `${String(at.getHours()).padStart(2, '0')}:${String(at.getMinutes()).padStart(2, '0')}`;
}

/** The day it is here, in a form that only tells one from another. */
export const today = (): string => new Date().toDateString();
