// Chance that can be had again: a seed names a whole sequence. A linear congruential generator with the multiplier and
// the increment of Numerical Recipes (Press et al.); its high bits are good enough to shuffle a test.

/** Numbers from 0 up to 1. The same seed gives the same numbers. */
export function chance(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return (state >>> 8) / 2 ** 24;
  };
}
