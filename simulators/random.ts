/**
 * Chance that can be repeated: one seed and a stream's name give one sequence, on every machine. Each part of the
 * simulation draws from its own stream, so a fault switched on in one part leaves the others' chance as it was.
 */
export class Random {
  #a: number
  #b: number
  #c: number
  #counter = 1
  #spare: number | null = null

  /** @param seed any whole number @param stream a name that sets this sequence apart from others of the same seed */
  constructor(seed: number, stream: string) {
    let hash = (seed ^ 0x9e3779b9) >>> 0
    for (let i = 0; i < stream.length; i++) hash = scramble(hash ^ stream.charCodeAt(i))
    this.#a = scramble(hash + 1)
    this.#b = scramble(hash + 2)
    this.#c = scramble(hash + 3)
    for (let i = 0; i < 12; i++) this.next()
  }

  /** Uniform in [0, 1): a small-fast-counter generator of 32-bit words (three words of state and a counter). */
  next(): number {
    const sum = (this.#a + this.#b + this.#counter) | 0
    this.#counter = (this.#counter + 1) | 0
    this.#a = this.#b ^ (this.#b >>> 9)
    this.#b = (this.#c + (this.#c << 3)) | 0
    this.#c = ((this.#c << 21) | (this.#c >>> 11)) + sum
    this.#c |= 0
    return (sum >>> 0) / 4_294_967_296
  }

  /** Uniform in [low, high). */
  between(low: number, high: number): number {
    return low + (high - low) * this.next()
  }

  /** A whole number in [0, count). */
  below(count: number): number {
    return Math.floor(this.next() * count)
  }

  chance(probability: number): boolean {
    return this.next() < probability
  }

  /** Standard normal, by the polar method; every second call is free. */
  normal(): number {
    if (this.#spare !== null) {
      const spare = this.#spare
      this.#spare = null
      return spare
    }
    for (;;) {
      const x = 2 * this.next() - 1
      const y = 2 * this.next() - 1
      const square = x * x + y * y
      if (square === 0 || square >= 1) continue
      const factor = Math.sqrt((-2 * Math.log(square)) / square)
      this.#spare = y * factor
      return x * factor
    }
  }

  /** Exponential with the given mean: the wait for the next of events that know nothing of each other. */
  wait(mean: number): number {
    return -mean * Math.log(1 - this.next())
  }
}

/** Spreads every bit of a 32-bit word over all others (two rounds of multiply and shift). */
function scramble(word: number): number {
  let x = word >>> 0
  x = Math.imul(x ^ (x >>> 16), 0x21f0aaad)
  x = Math.imul(x ^ (x >>> 15), 0x735a2d97)
  return (x ^ (x >>> 15)) >>> 0
}
