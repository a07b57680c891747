// Where things stand in a text whose letters are all as wide as one another: lines, columns as the eye counts them, and
// the other way round. Pure.

/** The height of a line, CSS pixels: the same number stands in score.css. */
export const ROW = 24;

/** A tab goes on to the next column that is a multiple of this. */
export const TAB = 8;

/** The line of a place in the text, counted from 0. */
export function lineAt(text: string, at: number): number {
  let line = 0;
  for (let next = text.indexOf('\n'); next >= 0 && next < at; next = text.indexOf('\n', next + 1)) line += 1;
  return line;
}

/** The first place of a line that is counted from 0; the end of the text when there is none. */
export function startOf(text: string, line: number): number {
  let at = 0;
  for (let n = 0; n < line; n += 1) {
    const next = text.indexOf('\n', at);
    if (next < 0) return text.length;
    at = next + 1;
  }
  return at;
}

/** How many letters wide the first `characters` characters of a line are. */
export function widthOf(line: string, characters: number): number {
  let width = 0;
  let n = 0;
  for (const character of line) {
    if (n >= characters) break;
    width = character === '\t' ? (Math.floor(width / TAB) + 1) * TAB : width + 1;
    n += 1;
  }
  return width;
}
