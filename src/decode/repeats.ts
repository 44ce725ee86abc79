/** The shapes that a board has lately sent, and the fast way to decode what has one of them. */
import type { Arrival } from '../model/sample.js'
import { type Findings, keep } from './findings.js'
import type { NameTable } from './names.js'
import { readByShape, type Shape, shapeOf } from './shape.js'
import { doubt, toSi } from './target.js'
import { plainTime } from './times.js'

/** Boards that send this or that now and then have a few; more would be tried in vain. */
const SHAPES_MAX = 4
/** Learning costs more than decoding: a board whose texts never repeat is given up on, one whose texts do is not. */
const LEARN_MAX = 16
const USES_FOR_A_LEARN = 64

/** Scratch for one pack: at most four numbers a record of at most 32. Filled anew by each payload. */
const numbers = new Float64Array(128)
const times = new Float64Array(32)
const values = new Float64Array(32)

export class Repeats {
  /** The one used last stands first. */
  readonly #shapes: Shape[] = []
  #learns = LEARN_MAX
  #uses = 0

  /** Decodes a payload of a known shape into `findings`. False: it is for the ordinary way, and nothing was found. */
  decode(arrival: Arrival, findings: Findings): boolean {
    for (let k = 0; k < this.#shapes.length; k++) {
      const shape = this.#shapes[k]
      if (shape === undefined || !readByShape(shape, arrival.payload, numbers)) continue
      if (k > 0) {
        this.#shapes.splice(k, 1)
        this.#shapes.unshift(shape)
      }
      if (!resolve(shape, arrival)) return false
      for (let i = 0; i < shape.records.length; i++) {
        const record = shape.records[i]
        if (record !== undefined) keep(findings, record.target, times[i] ?? Number.NaN, values[i] ?? Number.NaN)
      }
      if (++this.#uses % USES_FOR_A_LEARN === 0 && this.#learns < LEARN_MAX) this.#learns++
      return true
    }
    return false
  }

  /** Remembers the shape of a pack that was decoded the ordinary way, if it was good throughout. */
  learn(arrival: Arrival, pack: unknown, names: NameTable, findings: Findings): void {
    if (this.#learns === 0 || findings.refusals.length > 0 || findings.clockSuspect || !Array.isArray(pack)) return
    this.#learns--
    const shape = shapeOf(arrival.payload, pack, names)
    if (shape === null) return
    this.#shapes.unshift(shape)
    if (this.#shapes.length > SHAPES_MAX) this.#shapes.pop()
  }
}

/** Times and SI values of the pack's records; false where one of them is in doubt, which the ordinary way explains. */
function resolve({ records }: Shape, arrival: Arrival): boolean {
  for (let i = 0; i < records.length; i++) {
    const record = records[i]
    if (record === undefined) return false
    const t = plainTime(numberAt(record.bt) + numberAt(record.t), arrival.at)
    const raw = numberAt(record.v) + numberAt(record.bv)
    const si = toSi(record.target, raw, record.unit)
    if (Number.isNaN(t) || doubt(record.target, raw, si) !== null) return false
    times[i] = t
    values[i] = si
  }
  return true
}

function numberAt(place: number): number {
  return place < 0 ? 0 : (numbers[place] ?? 0)
}
