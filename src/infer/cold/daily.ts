/** Once a day: the day's extremes, the frost in the ground, the seasons. */
import type { FrostFacts } from '../../model/facts-cold.js'
import { DAY, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { berggrenDepthM, N_FACTOR, stefanDepthM, USUAL_SOIL } from './frost-depth.js'
import { dateOf, HARD_FROST_C, seasonRanges, seasonStart } from './seasons.js'
import { type ColdState, KEPT, keep, round2 } from './state.js'

/** Days that make a yearly mean of the air. */
const YEAR_DAYS = 330
const COURSE_POINTS = 30

/** Takes ten minutes' mean into its day; when a day has ended, what rests on days is reckoned anew. */
export function noteDay(plan: SitePlan, state: EngineState, at: Ms, c: number): void {
  const { cold } = state
  const day = Math.round(Date.parse(plan.calendar.dayOf(at).date) / DAY)
  const last = cold.days.at(-1)
  if (last !== undefined && last[0] === day) {
    if (c < last[1]) last[1] = c
    if (c > last[2]) last[2] = c
    if (c <= HARD_FROST_C) cold.hardFrostOn ??= dateOf(day)
    return
  }
  const north = (plan.site.latitudeDeg ?? 1) >= 0
  if (last === undefined || seasonStart(last[0], north) !== seasonStart(day, north)) cold.hardFrostOn = null
  if (last !== undefined) {
    const nights = cold.days.map(([number, minC]) => ({ day: number, minC }))
    Object.assign(cold, seasonRanges(nights, day, north))
    cold.frost = frostOf(cold.days, day, north)
  }
  keep(cold.days, [day, c, c], KEPT.days)
  if (c <= HARD_FROST_C) cold.hardFrostOn ??= dateOf(day)
}

/** Frost in the ground from the season's days; null: no day of this season yet. */
export function frostOf(days: ColdState['days'], today: number, north: boolean): FrostFacts | null {
  const from = seasonStart(today, north)
  const season = days.filter(([day]) => day >= from)
  const first = season[0]
  if (first === undefined) return null
  let sum = 0
  let highest = 0
  let deepest = 0
  let frostDays = 0
  const weekly: { date: string; depthM: number }[] = []
  const yearMean = days.length < YEAR_DAYS ? null : meanOf(days)
  season.forEach(([day, min, max], i) => {
    sum += (min + max) / 2
    if (sum >= highest) {
      highest = sum
      frostDays = 0
      weekly.length = 0
    } else frostDays += 1
    deepest = Math.max(deepest, highest - sum)
    if (highest > sum && (i % 7 === 0 || i === season.length - 1)) {
      keep(weekly, { date: dateOf(day), depthM: depth(highest - sum, frostDays, yearMean, 'bare') }, COURSE_POINTS)
    }
  })
  const index = highest - sum
  const week = season.slice(-7)
  const coldness = Math.max(0, -meanOf(week))
  return {
    since: dateOf(first[0]),
    days: season.length,
    indexCd: round2(index),
    seasonIndexCd: round2(deepest),
    depthM: depth(index, frostDays, yearMean, 'bare'),
    shallowM: depth(index, frostDays, yearMean, 'turf'),
    deepM: depth(index, frostDays, yearMean, 'cleared'),
    fortnightM: depth(index + 14 * coldness, frostDays + 14, yearMean, 'bare'),
    course: weekly,
  }
}

function meanOf(days: ColdState['days']): number {
  return days.reduce((total, [, min, max]) => total + (min + max) / 2, 0) / Math.max(1, days.length)
}

/** Without a year's mean the ground's own warmth is not known: Stefan's depth, which is the deeper. */
function depth(indexCd: number, frostDays: number, yearMean: number | null, surface: keyof typeof N_FACTOR): number {
  const index = Math.max(0, indexCd) * N_FACTOR[surface]
  const metres =
    yearMean === null
      ? stefanDepthM(index, USUAL_SOIL)
      : berggrenDepthM(index, USUAL_SOIL, Math.max(1, frostDays), yearMean)
  return round2(metres)
}
