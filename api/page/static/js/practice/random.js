/** Chance that a seed decides: the same seed makes the same drawing on every telephone. */

/** Numbers from 0 to 1 of a seed of 32 bits (mulberry32). */
export function chanceOf(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** A seed that nobody knows before. */
export function freshSeed() {
  return crypto.getRandomValues(new Uint32Array(1))[0];
}
