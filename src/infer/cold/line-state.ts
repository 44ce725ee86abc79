/** What is remembered of one line. */
import type { Ms } from '../../model/time.js'
import { createRing, type Ring } from '../ring.js'

export type LineState = {
  c: number | null
  /** Share of its water that is ice, for lines that are followed. */
  ice: number
  t: Ms
  frozenSince: Ms | null
  points: Ring
  /** Learned: cooling rates, 1/h, and how much warmer than the air its surroundings are. */
  rates: number[]
  timeConstantH: number | null
  warmerC: number
  /** Squares of the misses of its minimum in the air as it was, °C², and their number. */
  missVar: number
  misses: number
  /** Half an hour ago: its temperature and the air's. */
  markC: number | null
  markAir: number | null
  markT: Ms
  /** Water that since the evening follows the air as it was, the coldest of it, and of the line; null: no night under way. */
  likeC: number | null
  likeMin: number
  coldest: number | null
  /** By the latest outlook. */
  min: number | null
  minSd: number
  minAt: Ms | null
  zeroAt: Ms | null
  /** At the earliest, in a night far colder than expected. */
  zeroFrom: Ms | null
  iceAt: Ms | null
}

export function createLine(): LineState {
  return {
    c: null,
    ice: 0,
    t: 0,
    frozenSince: null,
    points: createRing(40),
    rates: [],
    timeConstantH: null,
    warmerC: 0,
    missVar: 0,
    misses: 0,
    markC: null,
    markAir: null,
    markT: 0,
    likeC: null,
    likeMin: 0,
    coldest: null,
    min: null,
    minSd: 0,
    minAt: null,
    zeroAt: null,
    zeroFrom: null,
    iceAt: null,
  }
}
