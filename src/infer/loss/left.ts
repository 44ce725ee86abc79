/** How long the water lasts: the usual hours to come, weighed by how much is drawn now, and what leaks besides. */
import { HOUR, type Ms } from '../../model/time.js'
import type { LossState } from './state.js'
import { usualDay } from './use.js'

export type WaterLeft = { readonly hours: number; readonly low: number; readonly high: number }

/** What is drawn now says less and less of the hours to come. */
const PRESENT_LASTS_H = 6
const RATIO_MOST = 10
const HOURS_MOST = 60 * 24
/** No household is the same from day to day by less than this. */
const SCATTER_LEAST = 0.15
const SCATTER_MOST = 0.9

/**
 * @param presentLH drawn lately; null: not known
 * @param usualLatelyLH usual in the same hours
 * @param leakLH lost besides, day and night
 * @param staysSo nobody is there: what is drawn now goes on
 * @returns null before a first whole day, or where nothing is drawn
 */
export function waterLeft(
  loss: LossState,
  at: Ms,
  volumeL: number,
  presentLH: number | null,
  usualLatelyLH: number,
  leakLH: number,
  staysSo: boolean,
): WaterLeft | null {
  const day = usualDay(loss)
  if (day === null || day.valueL <= 0) return null
  const little = 0.1 * (day.valueL / 24)
  const present = presentLH === null ? usualLatelyLH : Math.max(0, presentLH - leakLH)
  const ratio = Math.min(RATIO_MOST, (present + little) / (usualLatelyLH + little))
  const scatter = Math.min(SCATTER_MOST, Math.max(SCATTER_LEAST, day.sdL / day.valueL))
  const run = (by: number) => hoursUntil(loss, at, volumeL, staysSo ? present * by : null, ratio, by, leakLH)
  const hours = run(1)
  if (hours === null) return null
  const doubt = scatter / Math.sqrt(Math.max(1, hours / 24))
  return { hours, low: run(1 + doubt) ?? hours, high: run(1 - doubt) ?? HOURS_MOST }
}

function hoursUntil(
  loss: LossState,
  at: Ms,
  volumeL: number,
  steadyLH: number | null,
  ratio: number,
  by: number,
  leakLH: number,
): number | null {
  const scale = scaleOf(loss)
  let left = volumeL
  for (let h = 0; h < HOURS_MOST; h += 1) {
    const usual = scale * hourOfWeek(loss, at + h * HOUR)
    const draw = steadyLH ?? usual * by * (1 + (ratio - 1) * Math.exp(-h / PRESENT_LASTS_H))
    const out = draw + leakLH
    if (out >= left && out > 0) return h + left / out
    left -= out
  }
  return null
}

/** By whole hours from the day under way; a change of the clocks moves it by an hour, which is nothing here. */
function hourOfWeek(loss: LossState, t: Ms): number {
  const hours = Math.floor((t - loss.dayStart) / HOUR)
  const at = (((24 * loss.dayOfWeek + hours) % 168) + 168) % 168
  const weekday = Math.floor(at / 24)
  const hour = at % 24
  if ((loss.weekN[at] ?? 0) >= 3) return loss.week[at] ?? 0
  const own = (weekday === 0 || weekday === 6 ? 24 : 0) + hour
  const other = own >= 24 ? hour : 24 + hour
  return ((loss.plainN[own] ?? 0) > 0 ? loss.plain[own] : loss.plain[other]) ?? 0
}

/** The hours' values are capped; together they must give the usual day. */
function scaleOf(loss: LossState): number {
  const day = usualDay(loss)
  let sum = 0
  for (let h = 0; h < 168; h += 1) sum += hourOfWeek(loss, loss.dayStart + h * HOUR)
  return day === null || sum <= 0 ? 0 : (7 * day.valueL) / sum
}
