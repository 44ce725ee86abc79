/** Readings wait here for the lateness window and leave in order of (time, signal), however they came. */
import type { Ms } from '../model/time.js'

export class Order {
  readonly #t: Ms[] = []
  readonly #signal: number[] = []
  readonly #value: number[] = []
  #sorted = true

  get size(): number {
    return this.#t.length
  }

  add(signal: number, t: Ms, value: number): void {
    const last = this.#t.length - 1
    if (last >= 0 && this.#sorted) {
      const lastT = this.#t[last] ?? 0
      if (t < lastT || (t === lastT && signal < (this.#signal[last] ?? 0))) this.#sorted = false
    }
    this.#t.push(t)
    this.#signal.push(signal)
    this.#value.push(value)
  }

  /** Hands over every reading with t < until, in order. */
  release(until: Ms, each: (signal: number, t: Ms, value: number) => void): void {
    if (this.#t.length === 0) return
    if (!this.#sorted) this.#sort()
    let n = 0
    while (n < this.#t.length && (this.#t[n] ?? 0) < until) {
      each(this.#signal[n] ?? 0, this.#t[n] ?? 0, this.#value[n] ?? 0)
      n += 1
    }
    if (n === 0) return
    this.#t.splice(0, n)
    this.#signal.splice(0, n)
    this.#value.splice(0, n)
  }

  clear(): void {
    this.#t.length = 0
    this.#signal.length = 0
    this.#value.length = 0
    this.#sorted = true
  }

  #sort(): void {
    const order = this.#t.map((_, i) => i)
    order.sort((a, b) => (this.#t[a] ?? 0) - (this.#t[b] ?? 0) || (this.#signal[a] ?? 0) - (this.#signal[b] ?? 0))
    const t = order.map((i) => this.#t[i] ?? 0)
    const signal = order.map((i) => this.#signal[i] ?? 0)
    const value = order.map((i) => this.#value[i] ?? 0)
    for (let i = 0; i < order.length; i += 1) {
      this.#t[i] = t[i] ?? 0
      this.#signal[i] = signal[i] ?? 0
      this.#value[i] = value[i] ?? 0
    }
    this.#sorted = true
  }
}
