/** Chance from a seed that is handed in: the same seed gives the same years. */
export type Chance = {
  /** Evenly in [0, 1). */
  next(): number
  /** A whole number in [0, below). */
  below(below: number): number
  /** Normal, mean 0, standard deviation 1 (Box and Muller 1958). */
  normal(): number
}

/** Mulberry32: 32 bits of state, long enough for what is drawn here and the same on every machine. */
export function chanceOf(seed: number): Chance {
  let state = seed >>> 0
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = state
    mixed = Math.imul(mixed ^ (mixed >>> 15), mixed | 1)
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296
  }
  return {
    next,
    below: (below) => Math.floor(next() * below),
    normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
  }
}
