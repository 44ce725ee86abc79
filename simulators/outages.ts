/** When an ordinary poor link is down by itself. */
import { DAY, MINUTE, type Ms } from '../src/model/time.js'
import { Random } from './random.js'

export type OutageOptions = {
  /** Outages a day, on average, and how long the longest lasts. */
  readonly outagesPerDay?: number
  readonly outageLongestMin?: number
}

export class Outages {
  readonly #random: Random
  readonly #meanWaitMs: number
  readonly #longestMs: Ms
  #from: Ms = 0
  #to: Ms = 0

  constructor(seed: number, options: OutageOptions, startMs: Ms) {
    this.#random = new Random(seed, 'outages')
    this.#longestMs = (options.outageLongestMin ?? 360) * MINUTE
    const perDay = options.outagesPerDay ?? 0
    this.#meanWaitMs = perDay > 0 ? DAY / perDay : Number.POSITIVE_INFINITY
    this.#plan(startMs)
  }

  /** Whether the link is down in this second. */
  second(at: Ms): boolean {
    if (at < this.#from) return false
    if (at < this.#to) return true
    this.#plan(at)
    return false
  }

  /** Lengths are spread evenly over their logarithm: many of minutes, few of hours. */
  #plan(at: Ms): void {
    this.#from = at + this.#random.wait(this.#meanWaitMs)
    this.#to = this.#from + MINUTE * Math.exp(this.#random.next() * Math.log(this.#longestMs / MINUTE))
  }
}
