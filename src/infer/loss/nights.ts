/** The quiet hours, night by night: what is lost in them, and whether it is more than it used to be. */
import type { Fall } from '../../model/facts-loss.js'
import { DAY, HOUR, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { MAD_TO_SD, median } from '../stats.js'
import { BIN_MS, BINS_IN_HOUR, binSdL, drawStepL, fallsBetween } from './bins.js'
import { driftL, isQuiet } from './drift.js'
import { quietFall } from './slope.js'
import type { LossState } from './state.js'
import { QUIET_HOURS } from './use.js'

const NIGHTS_KEPT = 21
/** Of the five quiet hours so many must be at rest and read. */
const REST_LEAST_H = 3
/** Nights before there is a usual. */
const USUAL_LEAST = 7
const NIGHTS_TRIED = 5
/** Less than this is a drip, evaporation, condensation. */
const RATE_LEAST_LH = 2
/** Standard deviations by which the mean of the last nights must stand out. */
const STANDS_OUT = 4
/** A use in the night that a coarse sensor does not show as a step, litres. */
const HIDDEN_USE_L = 6
/** A night in which a quiet sensor showed the loss go on evenly; such a one may speak alone. */
const PLAIN = 2
const ALONE_SDS = 10
/** The newest nights must each show this share of their mean. */
const EACH_SHARE = 0.3

/** Ends the night whose quiet hours end at `at`. */
export function endNight(plan: SitePlan, state: EngineState, at: Ms): void {
  const { loss } = state
  const from = Math.floor((at - QUIET_HOURS * HOUR) / BIN_MS)
  const to = Math.floor(at / BIN_MS) - 1
  const falls = longestRest(loss, from, to)
  if (falls.length < REST_LEAST_H * BINS_IN_HOUR) return
  const step = drawStepL(plan, state)
  const found = quietFall(falls, binSdL(plan, state), step)
  const rateLH = found.perStep * BINS_IN_HOUR
  const hidden = step > HIDDEN_USE_L ? HIDDEN_USE_L / QUIET_HOURS : 0
  const sdLH = Math.hypot(found.perStepSd * BINS_IN_HOUR, 0.5 * hidden, 0.2)
  push(loss, at, rateLH, sdLH, found.even && isQuiet(plan, state))
}

/** All falls at rest between two bins, over the runs between them. */
function longestRest(loss: LossState, from: number, to: number): number[] {
  const all: number[] = []
  let end = to
  while (end > from) {
    const falls = fallsBetween(loss, from, end)
    all.unshift(...falls)
    end -= Math.max(1, falls.length + 1)
  }
  return all
}

function push(loss: LossState, at: Ms, rateLH: number, sdLH: number, plain: boolean): void {
  const usual = usualNight(loss)
  const odd = usual !== null && rateLH - usual.rateLH > Math.max(RATE_LEAST_LH, 3 * Math.hypot(usual.sdLH, sdLH))
  loss.nightT.push(at)
  loss.nightLH.push(Math.round(100 * rateLH) / 100)
  loss.nightSd.push(Math.round(100 * sdLH) / 100)
  loss.nightOdd.push(odd ? (plain ? PLAIN : 1) : 0)
  if (loss.nightT.length <= NIGHTS_KEPT) return
  loss.nightT.shift()
  loss.nightLH.shift()
  loss.nightSd.shift()
  loss.nightOdd.shift()
}

/** Usual loss in the quiet hours and its scatter, of nights that did not stand out, the newest `leaveOut` left out. */
export function usualNight(
  loss: LossState,
  leaveOut = 0,
): { readonly rateLH: number; readonly sdLH: number; readonly nights: number } | null {
  const plain: number[] = []
  for (let i = 0; i < loss.nightLH.length - leaveOut; i += 1)
    if (loss.nightOdd[i] === 0) plain.push(loss.nightLH[i] ?? 0)
  if (plain.length < USUAL_LEAST) return null
  const rateLH = median(plain)
  const sdLH = MAD_TO_SD * median(plain.map((rate) => Math.abs(rate - rateLH)))
  return { rateLH, sdLH: Math.max(sdLH, 0.3), nights: plain.length }
}

/** Whether the newest nights, two to five of them, lost plainly more than the nights before; one alone if it is plain. */
export function nightlyFall(plan: SitePlan, state: EngineState, at: Ms): (Fall & { nights: number }) | null {
  const { loss } = state
  const newest = loss.nightT.at(-1)
  if (newest === undefined || at - newest > 26 * HOUR) return null
  for (let k = loss.nightOdd.at(-1) === PLAIN ? 1 : 2; k <= NIGHTS_TRIED && k <= loss.nightT.length; k += 1) {
    const first = loss.nightT.length - k
    if (newest - (loss.nightT[first] ?? 0) > (k + 1) * DAY) return null
    const rates = loss.nightLH.slice(first)
    const usual = usualNight(loss, k)
    const mean = rates.reduce((sum, rate) => sum + rate, 0) / k
    const base = usual?.rateLH ?? 0
    const noise = median(loss.nightSd.slice(first))
    const scatter = usual === null ? driftL(plan, state) / QUIET_HOURS : Math.hypot(usual.sdLH, noise)
    const sdLH = scatter * Math.sqrt(1 / k + (usual === null ? 1 : 1 / usual.nights))
    const excess = mean - base
    const every = rates.every((rate) => rate - base > EACH_SHARE * excess)
    if (!every || excess < RATE_LEAST_LH || excess < (k === 1 ? ALONE_SDS : STANDS_OUT) * sdLH) continue
    return {
      since: (loss.nightT[first] ?? 0) - QUIET_HOURS * HOUR,
      hours: k * QUIET_HOURS,
      rateLH: excess,
      rateSdLH: sdLH,
      nights: k,
    }
  }
  return null
}
