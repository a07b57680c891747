// Names as people read them: capitals are for states and for HOLD, so a part that the score writes in capitals is set in
// title case.

/** A name for the screen. What is not written in capitals throughout stands as it is. */
export function titled(name: string): string {
  if (name !== name.toUpperCase() || name === name.toLowerCase()) return name;
  return name.replace(/\p{L}[\p{L}\p{M}]*/gu, (word) => {
    const [first = '', ...rest] = word;
    return first + rest.join('').toLowerCase();
  });
}
