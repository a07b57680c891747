// How long something takes, in English, as a person says it.

/** So many seconds, in minutes. */
export function minutes(seconds: number): string {
  return seconds < 60 ? 'under a minute' : `about ${Math.round(seconds / 60)} min`;
}
