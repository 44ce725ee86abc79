/** What a bench board measures: a tank that is drawn down slowly and filled by a pump at its low mark, over and over. */
import type { Values } from './packets.js'

const LOW_MM = 500
const HIGH_MM = 1_300
/** The same figures in the configuration of the bench sites. */
export const TANK = { lowM: LOW_MM / 1000, highM: HIGH_MM / 1000, diameterM: 1.2, heightM: 1.5 } as const

/** Millimetres a second of the level: a fill of 800 mm takes some 44 minutes, the draw after it half a day and more. */
const RISE_MM_S = 0.3
const FALL_MM_S = 0.02
const RUNNING_CA = 410
const RESTING_CV = 2_650
const LOADED_CV = 2_540

export class BoardLife {
  #levelMm: number
  #pumping: boolean
  #lastMs: number | null = null
  #noise: number

  /** Boards differ by their number, so that not all fill at once. */
  constructor(number: number) {
    this.#levelMm = LOW_MM + 5 + ((number * 37) % 700)
    this.#pumping = number % 3 === 0
    this.#noise = number + 1
  }

  at(timeMs: number): Values {
    const seconds = this.#lastMs === null ? 0 : Math.min(60, (timeMs - this.#lastMs) / 1000)
    this.#lastMs = timeMs
    this.#levelMm += seconds * (this.#pumping ? RISE_MM_S : -FALL_MM_S)
    if (this.#levelMm <= LOW_MM) this.#pumping = true
    if (this.#levelMm >= HIGH_MM) this.#pumping = false
    this.#noise = (Math.imul(this.#noise, 1_103_515_245) + 12_345) & 0x7fffffff
    const jitter = (this.#noise >> 16) % 5
    return {
      levelMm: Math.round(this.#levelMm) + (jitter > 3 ? 1 : 0),
      currentCa: this.#pumping ? RUNNING_CA + jitter : jitter,
      voltageCv: (this.#pumping ? LOADED_CV : RESTING_CV) + jitter,
    }
  }
}
