/**
 * What stands between sun and array, learned from hours in which nothing held it back. Clouds come and go, a tree stays:
 * a high quantile over the days of what was given of the clear sky shows the hour as it is when no cloud is there.
 * Dirt and snow lie on the panel in all hours alike and go again: they are taken out day by day (`soil.ts`).
 */
import type { EnergyHour } from '../../model/facts-balance.js'
import { HOUR, type Ms } from '../../model/time.js'
import { quantile } from '../stats.js'
import { positionOn } from '../sun/position.js'
import { type ArrayPlace, clearHour, courseOfDay, dayOfYear } from './clear.js'
import { type SoilSpell, soilByDay, soilSpells } from './soil.js'

/** Twenty-four stretches of the year, half a month each, and the hours of UTC: in each the sun stands much the same. */
export const STRETCHES = 24
const HOURS = 24

/** An hour tells something of the sky when at least so much clear sky fell into its free minutes, share of an hour's rating. */
const TELLING = 0.05
/** The quantile that stands for "no cloud". */
const CLEAR_QUANTILE = 0.9
const FULL_BIN = 12
const LEAST_BIN = 6
/** Held back for more of the hour than this, it does not tell; for less than that, its free minutes stand for all. */
const HELD_HOUR = 0.75
const FREE_HOUR = 0.1
/** Hours beside this one tell whether the day was clear; on such days the quantile need not be high. */
const BESIDE_MS = 4 * HOUR
const CLEAR_DAY = 0.92
const CLEAR_DAY_QUANTILE = 0.5
const LEAST_CLEAR = 4
const OPEN = 0.5
/** With more of its hours taken away by a full battery the high quantile is no measure. */
const HELD_MOST = 0.15
/** Sun places nearer than this are taken as alike. */
const NEAR_DEG = 6

export type ShadeSource = 'seen' | 'near' | 'assumed-open'
export type ShadeCell = {
  /** Share of the clear sky on the rated array that arrives as power here, all losses included. */
  readonly share: number
  /** The same against the least shaded hours: 1 is open sky. */
  readonly transmission: number
  /** Days that it rests on. */
  readonly days: number
  readonly source: ShadeSource
}

export type Shade = {
  /** By stretch of the year and hour of UTC; null where the sun is down. */
  readonly cells: readonly (ShadeCell | null)[]
  /** Clear sky on the array in the middle of each stretch, hours of full sun in the hour. */
  readonly clear: Float64Array
  /** What the least shaded hours give of the rating. */
  readonly performance: number
  /** Factor of each day (start of the UTC day) for what lay on the panel; 1 is clean. */
  readonly soil: ReadonlyMap<Ms, number>
  readonly spells: readonly SoilSpell[]
}

export function stretchOf(t: Ms): number {
  return Math.min(STRETCHES - 1, Math.floor(((dayOfYear(t) - 1) / 365.25) * STRETCHES))
}

export function cellIndex(stretch: number, hourUtc: number): number {
  return stretch * HOURS + hourUtc
}

export type Ratio = {
  readonly at: Ms
  readonly day: Ms
  readonly index: number
  /** Of the clear sky in its free minutes, what the array gave. */
  readonly ratio: number
  /** Share of the hour in which it was held back. */
  readonly held: number
}

/** Hours that tell something of the sky: not held back for most of their time. */
export function ratiosOf(hours: readonly EnergyHour[], array: ArrayPlace): readonly Ratio[] {
  const ratios: Ratio[] = []
  for (const { at, freeWh, freeClearWh, heldShare } of hours) {
    const held = heldShare ?? 0
    if (freeWh === null || freeClearWh === null || freeClearWh < TELLING * array.ratedW || held > HELD_HOUR) continue
    const index = cellIndex(stretchOf(at), Math.floor(at / HOUR) % HOURS)
    ratios.push({ at, day: at - (at % (24 * HOUR)), index, ratio: Math.max(0, freeWh / freeClearWh), held })
  }
  return ratios
}

/**
 * Learns shade and soiling from hours of energy. `year` is any instant of the year whose sun serves for the stretches
 * (the sun's way is the same each year to a fraction of a degree).
 */
export function learnShade(hours: readonly EnergyHour[], array: ArrayPlace, year: Ms): Shade {
  const ratios = ratiosOf(hours, array)
  const sun = sunOfStretches(array, year)
  const heldShares = heldOf(hours, array, ratios)
  let soil: ReadonlyMap<Ms, number> = new Map()
  let shares = sharesOf(ratios, soil, heldShares, null)
  for (let round = 0; round < 2; round += 1) {
    soil = soilByDay(ratios, shares)
    shares = sharesOf(ratios, soil, heldShares, shares)
  }
  const performance = bestOf(shares, sun.clear)
  return {
    cells: fillCells(shares, sun, performance),
    clear: sun.clear,
    performance,
    soil,
    spells: soilSpells(soil),
  }
}

export type Share = { readonly share: number; readonly days: number } | null

/** Share of the hours of each cell in which there was sun, but no free minute to tell it by: they were the clear ones. */
function heldOf(hours: readonly EnergyHour[], array: ArrayPlace, ratios: readonly Ratio[]): Float64Array {
  const told = new Float64Array(STRETCHES * HOURS)
  const all = new Float64Array(STRETCHES * HOURS)
  for (const { index } of ratios) told[index] = (told[index] ?? 0) + 1
  for (const { at, clearWh, heldShare } of hours) {
    if (heldShare === null || (clearWh ?? 0) < TELLING * array.ratedW) continue
    const index = cellIndex(stretchOf(at), Math.floor(at / HOUR) % HOURS)
    all[index] = (all[index] ?? 0) + 1
  }
  return all.map((count, i) => (count > 0 ? 1 - (told[i] ?? 0) / count : 0))
}

/**
 * What arrives in each cell without cloud. First from days that the hours beside it show to be clear: where a full
 * battery takes the clear days away, what is left is cloudy, and the highest of it is no measure. Else the high quantile,
 * if few hours were taken away. Thin cells borrow from the same hour in the stretches beside them.
 */
function sharesOf(
  ratios: readonly Ratio[],
  soil: ReadonlyMap<Ms, number>,
  heldShares: Float64Array,
  before: readonly Share[] | null,
): readonly Share[] {
  const all: number[][] = Array.from({ length: STRETCHES * HOURS }, () => [])
  const clear: number[][] = Array.from({ length: STRETCHES * HOURS }, () => [])
  const beside = before === null ? null : skyBeside(ratios, before, heldShares)
  const open = before === null ? 0 : bestShare(before)
  ratios.forEach((one, i) => {
    const clean = soil.get(one.day) ?? 1
    const sky = beside?.[i] ?? Number.NaN
    // A full battery lets the array go when a shadow falls on it: the free minutes are the shaded ones, the others open.
    const mixed = one.held > FREE_HOUR ? one.held * open * sky + (1 - one.held) * one.ratio : one.ratio
    if (clean <= 0.5 || Number.isNaN(mixed)) return
    all[one.index]?.push(mixed / clean)
    if (sky > CLEAR_DAY * clean) clear[one.index]?.push(mixed / clean)
  })
  return all.map((_, index) => {
    const sure = withNeighbours(clear, index)
    if (sure.length >= LEAST_CLEAR) return { share: quantile(sure, CLEAR_DAY_QUANTILE), days: sure.length }
    const values = withNeighbours(all, index)
    if (values.length < LEAST_BIN || (heldShares[index] ?? 0) > HELD_MOST) return null
    return { share: quantile(values, CLEAR_QUANTILE), days: values.length }
  })
}

function withNeighbours(bins: readonly number[][], index: number): readonly number[] {
  const own = bins[index] ?? []
  if (own.length >= FULL_BIN) return own
  const hour = index % HOURS
  const stretch = Math.floor(index / HOURS)
  return [...own, ...[-1, 1].flatMap((step) => bins[cellIndex((stretch + step + STRETCHES) % STRETCHES, hour)] ?? [])]
}

/** What open sky gives, from cells that rest on many days: not the luckiest of all. */
function bestShare(shares: readonly Share[]): number {
  const known = shares.flatMap((share) => (share === null ? [] : [share.share]))
  return known.length === 0 ? 0.85 : quantile(known, 0.85)
}

/** For each ratio the mean clearness of the sky in the other hours of its day up to four hours away; NaN: none was seen. */
function skyBeside(ratios: readonly Ratio[], shares: readonly Share[], heldShares: Float64Array): Float64Array {
  const best = bestShare(shares)
  const sky = (one: Ratio): number => {
    const share = shares[one.index]?.share ?? 0
    const trusted = share > OPEN * best && (heldShares[one.index] ?? 0) <= HELD_MOST
    return trusted ? one.ratio / share : Number.NaN
  }
  const found = new Float64Array(ratios.length).fill(Number.NaN)
  ratios.forEach(({ at }, i) => {
    let sum = 0
    let n = 0
    for (const step of [-1, 1]) {
      for (let k = i + step; Math.abs((ratios[k]?.at ?? Number.POSITIVE_INFINITY) - at) <= BESIDE_MS; k += step) {
        const one = ratios[k]
        const value = one === undefined ? Number.NaN : sky(one)
        if (Number.isNaN(value)) continue
        sum += value
        n += 1
      }
    }
    if (n >= 2) found[i] = sum / n
  })
  return found
}

type Sun = { readonly clear: Float64Array; readonly elevation: Float64Array; readonly azimuth: Float64Array }

function sunOfStretches(array: ArrayPlace, year: Ms): Sun {
  const from = Date.UTC(new Date(year).getUTCFullYear(), 0, 1)
  const clear = new Float64Array(STRETCHES * HOURS)
  const elevation = new Float64Array(STRETCHES * HOURS)
  const azimuth = new Float64Array(STRETCHES * HOURS)
  for (let stretch = 0; stretch < STRETCHES; stretch += 1) {
    const day = from + Math.floor(((stretch + 0.5) / STRETCHES) * 365.25) * 24 * HOUR
    const course = courseOfDay(array.place, day)
    for (let hour = 0; hour < HOURS; hour += 1) {
      const index = cellIndex(stretch, hour)
      const place = positionOn(course, day + (hour + 0.5) * HOUR)
      clear[index] = clearHour(course, array.plane, day + hour * HOUR)
      elevation[index] = place.elevationDeg
      azimuth[index] = place.azimuthDeg
    }
  }
  return { clear, elevation, azimuth }
}

/** What open sky gives: a high quantile of the shares in hours with a good part of the sun. */
function bestOf(shares: readonly Share[], clear: Float64Array): number {
  const good = shares.flatMap((share, i) => (share !== null && (clear[i] ?? 0) > 0.35 ? [share.share] : []))
  return good.length === 0 ? 0.85 : Math.min(1.15, Math.max(0.2, quantile(good, 0.85)))
}

function fillCells(shares: readonly Share[], sun: Sun, performance: number): readonly (ShadeCell | null)[] {
  const made = (share: number, days: number, source: ShadeSource): ShadeCell => ({
    share,
    transmission: Math.min(1, share / performance),
    days,
    source,
  })
  return shares.map((share, index) => {
    if ((sun.clear[index] ?? 0) <= 0) return null
    if (share !== null) return made(share.share, share.days, 'seen')
    const near = nearest(shares, sun, index)
    return near === null ? made(performance, 0, 'assumed-open') : made(near.share, near.days, 'near')
  })
}

/** The cell that was seen with the sun nearest to where it stands in this one. */
function nearest(shares: readonly Share[], sun: Sun, index: number): Share {
  const elevation = sun.elevation[index] ?? 0
  const azimuth = sun.azimuth[index] ?? 0
  let best: Share = null
  let least = NEAR_DEG
  for (let i = 0; i < shares.length; i += 1) {
    const share = shares[i] ?? null
    if (share === null) continue
    const turn = Math.abs((((sun.azimuth[i] ?? 0) - azimuth + 540) % 360) - 180)
    const distance = Math.hypot(turn * Math.cos((elevation * Math.PI) / 180), (sun.elevation[i] ?? 0) - elevation)
    if (distance < least) {
      least = distance
      best = share
    }
  }
  return best
}
