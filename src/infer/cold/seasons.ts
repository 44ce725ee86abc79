/**
 * When the first hard frost of a season comes and when the last one goes, from the site's own nights: a yearly wave
 * through the minima, what the nights scatter about it, and how far this year has been from it lately.
 */
import type { SeasonRange } from '../../model/facts-cold.js'

/** A hard frost: 28 °F, at which unprotected lines begin to be at risk within a night [common practice]. */
export const HARD_FROST_C = -2.2
const YEAR_D = 365.25
/** Fewer nights than this show neither the height nor the depth of a year. */
export const NIGHTS_NEEDED = 120
/** From this span on the nights themselves say when the year is coldest; before, the calendar does. */
const WHOLE_YEAR_D = 300
/** Coldest about a month after the solstice. */
const COLDEST_DAY = { north: 20, south: 201 } as const
/** Nights in a row are alike: one in three tells something new [common practice]. */
const ALIKE_NIGHTS = 3
/** What this year has been lately fades within about this many days. */
const FADES_D = 20
const LATELY_D = 30

/** A day as days since 1970-01-01 of the site's calendar, and the least temperature of that day. */
export type NightlyMinimum = { readonly day: number; readonly minC: number }

type Wave = { readonly mean: number; readonly cosine: number; readonly sine: number; readonly sd: number }

export function dateOf(day: number): string {
  return new Date(day * 86_400_000).toISOString().slice(0, 10)
}

function phase(day: number): number {
  return (2 * Math.PI * day) / YEAR_D
}

/** Day since 1970 on which the winter half around `day` began: 1 August in the north, 1 February in the south. */
export function seasonStart(day: number, north: boolean): number {
  const year = new Date(day * 86_400_000).getUTCFullYear()
  const month = north ? 7 : 1
  const start = Date.UTC(year, month, 1) / 86_400_000
  return day >= start ? start : Date.UTC(year - 1, month, 1) / 86_400_000
}

/** Closing (before the first hard frost) and opening (after the last) of the season that `today` is in or before. */
export function seasonRanges(
  nights: readonly NightlyMinimum[],
  today: number,
  north: boolean,
): { closing: SeasonRange; opening: SeasonRange } {
  const wave = nights.length < NIGHTS_NEEDED ? null : fitWave(nights, north)
  if (wave === null) {
    const unknown = { known: false, nights: nights.length, neededNights: NIGHTS_NEEDED } as const
    return { closing: unknown, opening: unknown }
  }
  const start = seasonStart(today, north)
  const spanDays = (nights.at(-1)?.day ?? today) - (nights[0]?.day ?? today) + 1
  const risk = chanceOfFrost(nights, today, wave)
  const range = (start_: number, first: readonly [number, number]): SeasonRange => ({
    known: true,
    from: dateOf(start_ + first[0]),
    to: dateOf(start_ + first[1]),
    nights: nights.length,
    spanDays,
  })
  const rises = quantiles((i) => risk(start + i), 0.1, 0.5)
  const falls = quantiles((i) => risk(start + 364 - i), 0.1, 0.5)
  const unlikely = { known: false, nights: nights.length, neededNights: 0 } as const
  return {
    closing: rises === null ? unlikely : range(start, rises),
    opening: falls === null ? unlikely : range(start, [364 - falls[1], 364 - falls[0]]),
  }
}

/** Chance of a hard frost in the night of a day. */
function chanceOfFrost(nights: readonly NightlyMinimum[], today: number, wave: Wave): (day: number) => number {
  const lately = nights.filter((night) => today - night.day <= LATELY_D)
  const off = lately.reduce((sum, night) => sum + night.minC - waveAt(wave, night.day), 0) / Math.max(1, lately.length)
  const anomaly = lately.length < 7 ? 0 : off
  return (day) => {
    const expected = waveAt(wave, day) + anomaly * Math.exp(-Math.abs(day - today) / FADES_D)
    return normalBelow((HARD_FROST_C - expected) / wave.sd)
  }
}

/** First days by which a frost has come with these chances; null: in 300 days it does not reach them. */
function quantiles(risk: (i: number) => number, low: number, high: number): readonly [number, number] | null {
  let none = 1
  let first: number | null = null
  for (let i = 0; i < 300; i += 1) {
    none *= (1 - risk(i)) ** (1 / ALIKE_NIGHTS)
    if (first === null && none <= 1 - low) first = i
    if (none <= 1 - high) return [first ?? i, i]
  }
  return null
}

function waveAt(wave: Wave, day: number): number {
  return wave.mean + wave.cosine * Math.cos(phase(day)) + wave.sine * Math.sin(phase(day))
}

/** Least squares on mean and wave; where less than a year is known the wave's time is that of the calendar. */
function fitWave(nights: readonly NightlyMinimum[], north: boolean): Wave | null {
  const span = (nights.at(-1)?.day ?? 0) - (nights[0]?.day ?? 0)
  const coldest = phase(COLDEST_DAY[north ? 'north' : 'south'])
  const free = span >= WHOLE_YEAR_D
  const columns = (day: number): readonly number[] =>
    free ? [1, Math.cos(phase(day)), Math.sin(phase(day))] : [1, -Math.cos(phase(day) - coldest)]
  const solved = solve(nights, columns)
  if (solved === null) return null
  const [mean = 0, a = 0, b = 0] = solved
  const cosine = free ? a : -a * Math.cos(coldest)
  const sine = free ? b : -a * Math.sin(coldest)
  const squares = nights.reduce((sum, { day, minC }) => {
    const fitted = mean + cosine * Math.cos(phase(day)) + sine * Math.sin(phase(day))
    return sum + (minC - fitted) ** 2
  }, 0)
  return { mean, cosine, sine, sd: Math.max(1, Math.sqrt(squares / (nights.length - solved.length))) }
}

/** Normal equations, by elimination; null where they have no single answer. */
function solve(nights: readonly NightlyMinimum[], columns: (day: number) => readonly number[]): number[] | null {
  const size = columns(0).length
  const rows = Array.from({ length: size }, () => new Array<number>(size + 1).fill(0))
  for (const { day, minC } of nights) {
    const x = columns(day)
    rows.forEach((row, i) => {
      for (let j = 0; j < size; j += 1) row[j] = (row[j] ?? 0) + (x[i] ?? 0) * (x[j] ?? 0)
      row[size] = (row[size] ?? 0) + (x[i] ?? 0) * minC
    })
  }
  for (let i = 0; i < size; i += 1) {
    const pivot = rows[i]
    const lead = pivot?.[i] ?? 0
    if (pivot === undefined || Math.abs(lead) < 1e-6) return null
    for (let j = i; j <= size; j += 1) pivot[j] = (pivot[j] ?? 0) / lead
    rows.forEach((row, k) => {
      const factor = row[i] ?? 0
      if (k === i || factor === 0) return
      for (let j = i; j <= size; j += 1) row[j] = (row[j] ?? 0) - factor * (pivot[j] ?? 0)
    })
  }
  return rows.map((row) => row[size] ?? 0)
}

/** Share of a normal sample below `z`: Abramowitz and Stegun 26.2.17, good to 7.5e-8. */
function normalBelow(z: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(z))
  const poly = t * (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
  const tail = (Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI)) * poly
  return z > 0 ? 1 - tail : tail
}
