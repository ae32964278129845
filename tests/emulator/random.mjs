/**
 * A small seeded generator (mulberry32, public domain), so that every torn sector can be had again from its seed.
 *
 * @param {number} seed any 32-bit integer
 * @returns {() => number} a function giving numbers in [0, 1)
 */
export function seededRandom(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}
