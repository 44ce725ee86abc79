/** What many draws say together. */
import { quantileSorted } from '../stats.js'
import type { Lived } from './simulate.js'

export type Summary = {
  /** Short days a year. */
  readonly mean: number
  readonly ci95: readonly [number, number]
  /** 1…12; null: not one day was short. */
  readonly month: number | null
  readonly lossOfLoad: number
}

export function summary(totals: readonly Lived[], yearsPerDraw: number): Summary {
  const perYear = totals.map((one) => one.shortDays / yearsPerDraw).sort((a, b) => a - b)
  const byMonth = new Float64Array(12)
  let asked = 0
  let short = 0
  let sum = 0
  for (const one of totals) {
    asked += one.askedWh
    short += one.shortWh
    sum += one.shortDays / yearsPerDraw
    one.shortByMonth.forEach((days, month) => {
      byMonth[month] = (byMonth[month] ?? 0) + days
    })
  }
  const most = Math.max(...byMonth)
  return {
    mean: totals.length === 0 ? 0 : sum / totals.length,
    ci95: perYear.length === 0 ? [0, 0] : [quantileSorted(perYear, 0.025), quantileSorted(perYear, 0.975)],
    month: most > 0 ? byMonth.indexOf(most) + 1 : null,
    lossOfLoad: asked > 0 ? short / asked : 0,
  }
}
