/** Stored hours as whole days: how clear the sky was, what house and pump took, how cold the battery stood. */
import type { EnergyHour } from '../../model/facts-balance.js'
import { DAY, HOUR, type Ms } from '../../model/time.js'
import { cellIndex, type Shade, stretchOf } from '../energy/shade.js'

/** One day of 24 hours from midnight by the sun. */
export type MeasuredDay = {
  readonly at: Ms
  /** 0…11. */
  readonly month: number
  /** Power over what the array gives here in this hour when the sky is clear; NaN while the sun is down. */
  readonly clearness: Float32Array
  readonly loadWh: Float32Array
  readonly pumpWh: Float32Array
  readonly batteryC: Float32Array
  /** A full battery held the array back for a good part of some hour. */
  readonly heldBack: boolean
  /** Share of the sunlit hours whose sky had to be taken from the hours or days beside them. */
  readonly filled: number
}

export type LoadSource = 'measured' | 'balance' | 'none'

export type Measured = {
  readonly days: readonly MeasuredDay[]
  readonly first: Ms | null
  readonly last: Ms | null
  /** Days between first and last that are not usable. */
  readonly missing: number
  readonly heldBack: number
  /** How the loads beside the pump are known: by the battery's current, or from what the array gave on the long mean. */
  readonly loadFrom: LoadSource
  readonly temperatureFrom: 'battery' | 'air' | 'none'
  readonly midnightUtc: number
}

const HOURS_LEAST = 20
/** Behind a tree the cloud is not told from the tree: such hours take the sky of the others. */
const OPEN = 0.4
const TELLING = 0.05
const CLEAREST = 1.15
/** The battery stands in a house or a box: so much warmer than the air where only that is measured [common practice]. */
const BOX_WARMER_C = 5
const UNKNOWN_C = 15

/** Hour of UTC at which the sun's day begins, from the longitude: whole hours are near enough. */
export function midnightUtcOf(longitudeDeg: number): number {
  return (((24 - Math.round(longitudeDeg / 15)) % 24) + 24) % 24
}

export type MeasuredOptions = {
  readonly longitudeDeg: number
  readonly ratedW: number
  /** Share of a watt-hour put into the battery that comes out again, for loads known by the balance only. */
  readonly batteryEfficiency: number
  readonly converterShare: number
}

export function measuredDays(hours: readonly EnergyHour[], shade: Shade, options: MeasuredOptions): Measured {
  const midnightUtc = midnightUtcOf(options.longitudeDeg)
  const byStart = new Map(hours.map((hour) => [hour.at, hour]))
  const { load, source } = loadReader(hours, options)
  const temperatureFrom = hours.some((hour) => hour.batteryC !== null)
    ? 'battery'
    : hours.some((hour) => hour.airC !== null)
      ? 'air'
      : 'none'
  const days: MeasuredDay[] = []
  const first = hours[0]?.at ?? null
  const last = hours.at(-1)?.at ?? null
  let dates = 0
  if (first !== null && last !== null && source !== 'none') {
    for (let at = startOfDay(first, midnightUtc); at + DAY <= last + HOUR; at += DAY) {
      if (at < first) continue
      dates += 1
      const list = Array.from({ length: 24 }, (_, i) => byStart.get(at + i * HOUR) ?? null)
      const day = dayOf(at, list, shade, options, load)
      if (day !== null) days.push(day)
    }
  }
  fillSkies(days)
  const heldBack = days.filter((day) => day.heldBack).length
  return { days, first, last, missing: dates - days.length, heldBack, loadFrom: source, temperatureFrom, midnightUtc }
}

function startOfDay(t: Ms, midnightUtc: number): Ms {
  const shift = midnightUtc * HOUR
  return Math.floor((t - shift) / DAY) * DAY + shift
}

type LoadReader = (hour: EnergyHour) => number | null

/** Where the battery's current is not measured, what went in on the long mean came out again: array less pump is the rest. */
function loadReader(hours: readonly EnergyHour[], options: MeasuredOptions): { load: LoadReader; source: LoadSource } {
  const measured = hours.filter((hour) => hour.loadWh !== null).length
  if (measured >= 0.5 * hours.length && measured > 0) return { load: (hour) => hour.loadWh, source: 'measured' }
  let sum = 0
  let n = 0
  for (const { harvestWh, pumpWh } of hours) {
    if (harvestWh === null || pumpWh === null) continue
    sum += harvestWh * options.converterShare * options.batteryEfficiency - pumpWh
    n += 1
  }
  if (n < 14 * 24) return { load: () => null, source: 'none' }
  const mean = Math.max(0, sum / n)
  return { load: (hour) => (hour.pumpWh === null ? null : mean), source: 'balance' }
}

function dayOf(
  at: Ms,
  list: readonly (EnergyHour | null)[],
  shade: Shade,
  options: MeasuredOptions,
  load: LoadReader,
): MeasuredDay | null {
  const known = list.filter((hour) => hour !== null && hour.pumpWh !== null && load(hour) !== null)
  if (known.length < HOURS_LEAST) return null
  const pump = filledSeries(list.map((hour) => hour?.pumpWh ?? null))
  const loads = filledSeries(list.map((hour) => (hour === null ? null : load(hour))))
  const cold = list.map((hour) => hour?.batteryC ?? (hour?.airC == null ? null : hour.airC + BOX_WARMER_C))
  const sky = skyOf(at, list, shade, options.ratedW)
  if (sky === null) return null
  return {
    at,
    month: new Date(at + DAY / 2).getUTCMonth(),
    ...sky,
    loadWh: loads,
    pumpWh: pump,
    batteryC: filledSeries(cold, UNKNOWN_C),
    heldBack: list.some((hour) => (hour?.heldShare ?? 0) > 0.2),
  }
}

/** Gaps take the mean of what is known that day. */
function filledSeries(values: readonly (number | null)[], otherwise = 0): Float32Array {
  const known = values.filter((value) => value !== null)
  const mean = known.length === 0 ? otherwise : known.reduce((sum, value) => sum + value, 0) / known.length
  return Float32Array.from(values, (value) => value ?? mean)
}

type Sky = Pick<MeasuredDay, 'clearness' | 'filled'>

/** Null where a day without any sign of held-back sun has no measured sky. */
function skyOf(at: Ms, list: readonly (EnergyHour | null)[], shade: Shade, ratedW: number): Sky | null {
  const clearness = new Float32Array(24).fill(Number.NaN)
  const least = new Float32Array(24)
  const stretch = stretchOf(at + DAY / 2)
  const soil = shade.soil.get(at - (at % DAY)) ?? 1
  let sunlit = 0
  let known = 0
  let bounded = 0
  for (let i = 0; i < 24; i += 1) {
    const start = at + i * HOUR
    const cell = shade.cells[cellIndex(stretch, Math.floor(start / HOUR) % 24)] ?? null
    const hour = list[i] ?? null
    if (cell === null) continue
    sunlit += 1
    if (hour === null || cell.transmission < OPEN) continue
    const { freeWh, freeClearWh, harvestWh, clearWh } = hour
    if (freeWh !== null && freeClearWh !== null && freeClearWh >= TELLING * ratedW) {
      clearness[i] = Math.min(CLEAREST, Math.max(0, freeWh / (freeClearWh * cell.share * soil)))
      known += 1
    } else if (harvestWh !== null && clearWh !== null && clearWh > TELLING * ratedW) {
      least[i] = Math.min(1, harvestWh / (clearWh * cell.share * soil))
      bounded += 1
    }
  }
  if (sunlit > 0 && known + bounded === 0) return null
  if (known > 0) spread(clearness, least)
  return { clearness, filled: sunlit === 0 ? 0 : 1 - known / sunlit }
}

/** Between known hours in a line, beyond them as they are: weather passes slower than hours. Never under what was given. */
function spread(clearness: Float32Array, least: Float32Array): void {
  let before = -1
  for (let i = 0; i <= 24; i += 1) {
    const here = i < 24 ? (clearness[i] ?? Number.NaN) : Number.NaN
    if (i < 24 && Number.isNaN(here)) continue
    const from = before < 0 ? here : (clearness[before] ?? here)
    const to = i < 24 ? here : from
    for (let k = before + 1; k < i; k += 1) {
      const share = before < 0 || i === 24 ? 0 : (k - before) / (i - before)
      clearness[k] = Math.max(least[k] ?? 0, from + share * (to - from))
    }
    before = i
  }
}

/** A day that was held back from dawn to dusk takes the mean sky of the days beside it that were seen. */
function fillSkies(days: readonly MeasuredDay[]): void {
  const means = days.map((day) => meanOf(day.clearness))
  days.forEach((day, i) => {
    if (!Number.isNaN(means[i] ?? Number.NaN)) return
    const beside = [1, 2, 3]
      .flatMap((step) => [means[i - step], means[i + step]])
      .find((one) => one !== undefined && !Number.isNaN(one))
    day.clearness.fill(beside ?? 0.9)
  })
}

function meanOf(values: Float32Array): number {
  let sum = 0
  let n = 0
  for (const value of values) {
    if (Number.isNaN(value)) continue
    sum += value
    n += 1
  }
  return n === 0 ? Number.NaN : sum / n
}
