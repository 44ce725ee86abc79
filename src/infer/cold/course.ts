/** The air from now until after the next sunrise, and how standing water follows it. */
import type { CoursePoint } from '../../model/facts-cold.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../model/time.js'
import { earlyMinimum, earlySpread, forecastFor, halfHourAt } from './evening.js'
import { fallenShare } from './night-course.js'
import { type Pipe, type Standing, stand } from './pipe.js'
import { type ColdState, type Evening, round2 } from './state.js'

/** After sunrise the air stays cold for half an hour, and then warms like this, °C an hour [common practice]. */
const STAYS_MS = 30 * MINUTE
const WARMS_CH = 1.2
/** A line lags the air: it is followed this long past sunrise. */
const AFTER_MS = 4 * HOUR
const STEP_MS = 10 * MINUTE
/** What is measured now is known to about this. */
const NOW_SD_C = 0.3

export type Outlook = {
  readonly min: number
  readonly sd: number
  /** Temperature at an instant, by the middle of what is expected, and how unsure that is. */
  readonly at: (t: Ms) => { readonly c: number; readonly sd: number }
  readonly until: Ms
}

/** Null: nothing can be said yet. `c`: the air now. */
export function outlookOf(cold: ColdState, now: Ms, c: number): Outlook | null {
  const { evening } = cold
  if (evening === null) return null
  if (evening.min !== null) return tonightOutlook(evening, evening.min, evening.sd, now, c)
  if (now > evening.sunset + 3 * HOUR) return null
  return earlyOutlook(cold, evening, now, c)
}

function tonightOutlook(evening: Evening, min: number, sd: number, now: Ms, c: number): Outlook {
  const end = Math.min(min, c)
  const nightH = (evening.sunrise - evening.sunset) / HOUR
  const shareAt = (t: Ms) => fallenShare((t - evening.sunset) / HOUR, nightH)
  const passed = shareAt(now)
  const at = (t: Ms) => {
    if (t >= evening.sunrise)
      return warming(evening, Math.max(now, evening.sunrise), now >= evening.sunrise ? c : end, sd, t)
    const share = passed >= 1 ? 1 : Math.max(0, (shareAt(t) - passed) / (1 - passed))
    return { c: c + (end - c) * share, sd: NOW_SD_C + (sd - NOW_SD_C) * share }
  }
  return { min: end, sd, at, until: evening.sunrise + AFTER_MS }
}

function warming(evening: Evening, from: Ms, c: number, sd: number, t: Ms): { c: number; sd: number } {
  const hours = Math.max(0, t - Math.max(from, evening.sunrise + STAYS_MS)) / HOUR
  return { c: c + WARMS_CH * hours, sd }
}

/** Until two hours after sunset as yesterday, moved by the difference now; then down to the first idea of the minimum. */
function earlyOutlook(cold: ColdState, evening: Evening, now: Ms, c: number): Outlook | null {
  const idea = earlyMinimum(cold, now, c)
  if (idea === null) return null
  const sd = forecastFor(cold, now) === idea ? Math.min(earlySpread(cold), 2.5) : earlySpread(cold)
  const then = halfHourAt(cold, now - DAY)
  const moment = evening.sunset + 2 * HOUR
  const nightH = (evening.sunrise - evening.sunset) / HOUR
  const asYesterday = (t: Ms): number => {
    const before = then === null ? null : halfHourAt(cold, t - DAY)
    // Without yesterday: evenly down to a third of the way.
    if (before === null || then === null)
      return c + ((Math.min(idea, c) - c) / 3) * Math.min(1, (t - now) / Math.max(HOUR, moment - now))
    // Water that was drawn yesterday or now sets the two apart: no afternoon is colder than the night that follows.
    return Math.max(c + before - then, Math.min(idea, c))
  }
  const t2 = asYesterday(Math.max(now, moment))
  const end = Math.min(idea, t2)
  const at = (t: Ms) => {
    if (t >= evening.sunrise) return warming(evening, evening.sunrise, end, sd, t)
    const grown = NOW_SD_C + (sd - NOW_SD_C) * Math.min(1, (t - now) / (evening.sunrise - now))
    if (t <= moment) return { c: asYesterday(t), sd: grown }
    return { c: t2 + (end - t2) * fallenShare((t - evening.sunset) / HOUR, nightH), sd: grown }
  }
  return { min: end, sd, at, until: evening.sunrise + AFTER_MS }
}

/** Points on whole hours, from now until after sunrise. */
export function coursePoints(outlook: Outlook, now: Ms): CoursePoint[] {
  const points: CoursePoint[] = []
  const from = now - (now % HOUR)
  for (let t = from; t <= outlook.until; t += HOUR) {
    const { c, sd } = outlook.at(Math.max(t, now))
    points.push({ at: Math.max(t, now), c: round2(c), sdC: round2(sd) })
  }
  return points
}

export type Followed = {
  /** How cold it would become if its water did not hold it at 0 °C while it turns to ice: how near to 0, or how far below. */
  readonly min: number
  readonly minAt: Ms
  readonly zeroAt: Ms | null
  readonly iceAt: Ms | null
}

/**
 * Lets standing water follow the outlook.
 *
 * @param shiftSd the course that is so many sd warmer (or colder, below 0) than expected
 * @param warmerC how much warmer than the air the surroundings of this line are
 */
export function followOutlook(
  outlook: Outlook,
  pipe: Pipe,
  from: Standing,
  now: Ms,
  shiftSd: number,
  warmerC: number,
): Followed {
  const water: Standing = { c: from.c, ice: from.ice }
  let plain = water.c
  let min = water.c
  let minAt = now
  let zeroAt: Ms | null = water.c <= 0 ? now : null
  let iceAt: Ms | null = water.ice >= 1 ? now : null
  const share = 1 - Math.exp(-STEP_MS / HOUR / pipe.timeConstantH)
  for (let t = now; t < outlook.until; t += STEP_MS) {
    const middle = outlook.at(t + STEP_MS / 2)
    const around = middle.c + shiftSd * middle.sd + warmerC
    stand(water, pipe, around, STEP_MS / HOUR)
    plain += (around - plain) * share
    if (plain < min) {
      min = plain
      minAt = t + STEP_MS
    }
    if (zeroAt === null && water.c <= 0) zeroAt = t + STEP_MS
    if (iceAt === null && water.ice >= 1) iceAt = t + STEP_MS
  }
  return { min, minAt, zeroAt, iceAt }
}
