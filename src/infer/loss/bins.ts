/** Five-minute means of the tank's volume: few enough to keep for a day, fine enough to tell a draw from a leak. */
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import { levelNoiseM } from '../delivered.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { volumeAt } from '../tank.js'
import type { LossState } from './state.js'

export const BIN_MS = 5 * MINUTE
export const BINS_IN_HOUR = HOUR / BIN_MS
/** A day and two hours, so that the same hour of the day before is there. */
const BINS_KEPT = 26 * BINS_IN_HOUR
/** After a stop the water settles and the fill is written. */
const SETTLE_MS = 3 * MINUTE
/** A step that a household's smallest seen draw makes, litres. */
const DRAW_LEAST_L = 3
/** Standard deviations by which a draw must stand out. */
const DRAW_SDS = 4

/** Takes one level reading into the bin under way. Once for each reading: no allocation. */
export function takeLevelBin(state: EngineState, t: Ms, levelM: number): void {
  const { loss, pump } = state
  const bin = Math.floor(t / BIN_MS)
  if (bin !== loss.bin) {
    // The look on the bin's edge has closed the one before; what a gap left open is dropped.
    loss.bin = bin
    loss.sum = 0
    loss.n = 0
    loss.ran = false
  }
  if (pump.run !== null || (pump.lastEndAt !== null && t - pump.lastEndAt < SETTLE_MS)) loss.ran = true
  loss.sum += levelM
  loss.n += 1
}

/** Closes the bin that ends at `at`, which lies on the grid of bins; null volumes for what was not read. */
export function closeBin(plan: SitePlan, state: EngineState, at: Ms): number | null {
  const { loss } = state
  const closed = Math.floor(at / BIN_MS) - 1
  const heard = loss.n > 0 && loss.bin === closed
  const volume = heard && plan.site.tank !== null ? volumeAt(plan.site.tank.shape, loss.sum / loss.n) : null
  if (heard) loss.usualN = loss.usualN === 0 ? loss.n : loss.usualN + 0.1 * (loss.n - loss.usualN)
  const tenths = volume === null ? null : Math.round(10 * volume)
  push(loss, closed, tenths === null ? null : loss.ran ? -1 - tenths : tenths)
  const rest = heard && !loss.ran
  loss.sum = 0
  loss.n = 0
  loss.ran = false
  return rest ? volume : null
}

function push(loss: LossState, bin: number, value: number | null): void {
  const next = loss.first + loss.bins.length
  if (loss.bins.length === 0 || bin < next || bin - next >= BINS_KEPT) {
    loss.first = bin
    loss.bins = [value]
    return
  }
  for (let missing = next; missing < bin; missing += 1) loss.bins.push(null)
  loss.bins.push(value)
  if (loss.bins.length >= BINS_KEPT + BINS_IN_HOUR) {
    const drop = loss.bins.length - BINS_KEPT
    loss.bins.splice(0, drop)
    loss.first += drop
  }
}

/** Volume of a bin at rest, litres; null where the pump ran or nothing was read. */
export function restL(loss: LossState, bin: number): number | null {
  const value = loss.bins[bin - loss.first]
  return value === undefined || value === null || value < 0 ? null : value / 10
}

/** Volume of any bin. */
export function anyL(loss: LossState, bin: number): number | null {
  const value = loss.bins[bin - loss.first]
  if (value === undefined || value === null) return null
  return (value < 0 ? -1 - value : value) / 10
}

/** Number of the newest bin. */
export function newest(loss: LossState): number {
  return loss.first + loss.bins.length - 1
}

/** Standard deviation of a bin's mean, litres: the readings' noise, and the last digit's. */
export function binSdL(plan: SitePlan, state: EngineState): number {
  const noise = Math.hypot(levelNoiseM(plan, state), 0.0003)
  return (noise * plan.areaLM) / Math.sqrt(Math.max(1, state.loss.usualN))
}

/** A fall from bin to bin that is surely a draw, litres. */
export function drawStepL(plan: SitePlan, state: EngineState): number {
  return Math.max(DRAW_LEAST_L, DRAW_SDS * Math.SQRT2 * binSdL(plan, state))
}

/** A fall that is so much less than the one before it is the end of a draw, litres. */
export function drawEndL(plan: SitePlan, state: EngineState): number {
  return Math.max(DRAW_LEAST_L, DRAW_SDS * Math.sqrt(6) * binSdL(plan, state))
}

/** A sensor that shows the end of so small a draw shows nearly every use. */
const FINE_L = 6

export function isFine(plan: SitePlan, state: EngineState): boolean {
  return drawEndL(plan, state) <= FINE_L
}

/** Bins that may be missing within a stretch: a packet or two that was lost. */
const HOLE_BINS = 2

/**
 * Falls from bin to bin at rest, oldest first, back from the newest bin to the last run, gap or `most` bins.
 * A hole of a bin or two is filled by a line.
 */
export function restFalls(loss: LossState, most: number): number[] {
  const end = newest(loss)
  return fallsBetween(loss, Math.max(loss.first, end - most), end)
}

/** The same from a bin to another, both within the memory: back from `to` until the rest is broken. */
export function fallsBetween(loss: LossState, from: number, to: number): number[] {
  const falls: number[] = []
  let later = restL(loss, to)
  let laterBin = to
  for (let bin = to - 1; bin >= from && later !== null; bin -= 1) {
    const raw = loss.bins[bin - loss.first]
    if (raw !== undefined && raw !== null && raw < 0) break
    const volume = restL(loss, bin)
    if (volume === null) {
      if (laterBin - bin > HOLE_BINS) break
      continue
    }
    const span = laterBin - bin
    for (let k = 0; k < span; k += 1) falls.push((volume - later) / span)
    later = volume
    laterBin = bin
  }
  return falls.reverse()
}
