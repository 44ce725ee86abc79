/**
 * Years made of measured days. Whole days are drawn, sun, loads and cold together, by month and in runs, so that spells
 * of cloud stay spells. What one season cannot know is drawn too: how it compares with other years, and what the months
 * were like that nobody measured.
 */
import { DAY } from '../../model/time.js'
import { cellIndex, STRETCHES } from '../energy/shade.js'
import type { Measured, MeasuredDay } from './measured.js'
import type { Chance } from './random.js'

/** Months with fewer days borrow from the months beside them, then from all. */
const MONTH_LEAST = 10
/** Mean length of a run of days that follow each other as they were measured. */
const RUN_DAYS = 6
/** Measured stretches are drawn anew in pieces of a week, to see what the answer would be with other weeks. */
const PIECE_DAYS = 7
/** A month's sun differs from year to year by some 9 %, and a whole season by half as much [common practice]. */
const MONTH_SD = 0.09
const SEASON_SD = 0.06
/** Months that nobody measured: their sky, their loads. */
const UNSEEN_SKY_SD = 0.12
const UNSEEN_LOAD_SD = 0.12
const LOAD_SD = 0.03
/** Half the swing of the mean temperature over the year, where the season was not measured. */
const SWING_C = 9
const SWING_SD_C = 3
const CLEAREST = 1.15

export type MonthCover = 'measured' | 'beside' | 'none'

export type Drawn = {
  readonly days: number
  readonly monthOf: Uint8Array
  /** Cell of the table of sun and shade, and how clear the sky is, for each hour. */
  readonly cell: Uint16Array
  readonly clearness: Float32Array
  readonly loadWh: Float32Array
  readonly pumpWh: Float32Array
  readonly batteryC: Float32Array
}

export type YearMaker = {
  readonly cover: readonly MonthCover[]
  /** So many years; with `varied`, also with what the measured season cannot know. */
  draw(chance: Chance, years: number, varied: boolean): Drawn
}

const CALENDAR = Array.from({ length: 365 }, (_, day) => {
  const date = new Date(Date.UTC(2025, 0, 1) + day * DAY)
  return { month: date.getUTCMonth(), stretch: Math.min(STRETCHES - 1, Math.floor((day / 365.25) * STRETCHES)), day }
})

export function createYears(measured: Measured, southern: boolean): YearMaker {
  const { days } = measured
  const byMonth = Array.from({ length: 12 }, (_, month) => days.flatMap((day, i) => (day.month === month ? [i] : [])))
  const pools = byMonth.map((own, month) => poolOf(byMonth, own, month))
  const cover = pools.map((pool) => pool.cover)
  const follows = days.map((day, i) => (days[i + 1]?.at ?? 0) - day.at === DAY)
  const bend = sensitivity(days)
  return {
    cover,
    draw: (chance, years, varied) => {
      const weights = varied ? pieces(days.length, chance) : null
      const drawnPools = pools.map(({ list }) => weighted(list, weights))
      const season = varied ? season0(chance, cover, bend) : seasonNone()
      return drawYears({ measured, pools: drawnPools, follows, cover, bend, season, southern }, chance, years)
    },
  }
}

function poolOf(byMonth: readonly (readonly number[])[], own: readonly number[], month: number) {
  if (own.length >= MONTH_LEAST) return { list: own, cover: 'measured' as const }
  const beside = [...own, ...(byMonth[(month + 1) % 12] ?? []), ...(byMonth[(month + 11) % 12] ?? [])]
  if (beside.length >= MONTH_LEAST) return { list: beside, cover: 'beside' as const }
  return { list: byMonth.flat(), cover: 'none' as const }
}

/** How often each day is counted when the pieces of the measured time are drawn anew. */
function pieces(days: number, chance: Chance): Uint16Array {
  const weights = new Uint16Array(days)
  for (let n = 0; n < days; n += PIECE_DAYS) {
    const start = chance.below(days)
    for (let i = start; i < start + PIECE_DAYS; i += 1) {
      const at = i % days
      weights[at] = (weights[at] ?? 0) + 1
    }
  }
  return weights
}

function weighted(list: readonly number[], weights: Uint16Array | null): readonly number[] {
  if (weights === null) return list
  const drawn = list.flatMap((i) => Array<number>(weights[i] ?? 0).fill(i))
  return drawn.length === 0 ? list : drawn
}

/**
 * The sky is bent by a power: clear hours stay clear, cloudy ones get brighter or darker. By how much the mean moves
 * for a small change of the power: −Σ k ln k / Σ k.
 */
function sensitivity(days: readonly MeasuredDay[]): number {
  let sum = 0
  let moved = 0
  for (const day of days) {
    for (const k of day.clearness) {
      if (!(k > 0.01) || k >= 1) continue
      sum += k
      moved -= k * Math.log(k)
    }
  }
  return sum === 0 ? 0.3 : Math.max(0.12, moved / sum)
}

/** Student's t with 4 degrees of freedom: how far seasons lie apart is itself not well known. */
function heavy(chance: Chance): number {
  const square = [1, 2, 3, 4].reduce((sum) => sum + chance.normal() ** 2, 0)
  return chance.normal() / Math.sqrt(square / 4)
}

type Season = { readonly sky: Float64Array; readonly load: Float64Array; readonly swingC: number }

function seasonNone(): Season {
  return { sky: new Float64Array(12), load: new Float64Array(12).fill(1), swingC: SWING_C }
}

/** How the long mean may differ from what was measured, month by month. */
function season0(chance: Chance, cover: readonly MonthCover[], bend: number): Season {
  const common = SEASON_SD * heavy(chance)
  const unseenSky = UNSEEN_SKY_SD * chance.normal()
  const unseenLoad = UNSEEN_LOAD_SD * chance.normal()
  const load0 = LOAD_SD * chance.normal()
  const none = (month: number): boolean => cover[month] === 'none'
  const sky = Float64Array.from({ length: 12 }, (_, month) => {
    return (common + MONTH_SD * chance.normal() + (none(month) ? unseenSky : 0)) / bend
  })
  const load = Float64Array.from({ length: 12 }, (_, month) =>
    Math.max(0.3, 1 + load0 + (none(month) ? unseenLoad : 0)),
  )
  return { sky, load, swingC: SWING_C + SWING_SD_C * chance.normal() }
}

type Making = {
  readonly measured: Measured
  readonly pools: readonly (readonly number[])[]
  readonly follows: readonly boolean[]
  readonly cover: readonly MonthCover[]
  readonly bend: number
  readonly season: Season
  readonly southern: boolean
}

function emptyYears(days: number): Drawn {
  const hours = days * 24
  return {
    days,
    monthOf: new Uint8Array(days),
    cell: new Uint16Array(hours),
    clearness: new Float32Array(hours),
    loadWh: new Float32Array(hours),
    pumpWh: new Float32Array(hours),
    batteryC: new Float32Array(hours),
  }
}

function drawYears(making: Making, chance: Chance, years: number): Drawn {
  const out = emptyYears(years * CALENDAR.length)
  let source = -1
  for (let year = 0; year < years; year += 1) {
    const own = Float64Array.from({ length: 12 }, () => (MONTH_SD * chance.normal()) / making.bend)
    for (const place of CALENDAR) {
      const goesOn = source >= 0 && making.follows[source] === true && chance.next() >= 1 / RUN_DAYS
      const pool = making.pools[place.month] ?? []
      source = goesOn ? source + 1 : (pool[chance.below(pool.length)] ?? 0)
      const sky = (making.season.sky[place.month] ?? 0) + (own[place.month] ?? 0)
      writeDay(making, out, year * CALENDAR.length + place.day, place, source, Math.exp(-sky))
    }
  }
  return out
}

function writeDay(
  making: Making,
  out: Drawn,
  index: number,
  place: (typeof CALENDAR)[number],
  source: number,
  power: number,
): void {
  const day = making.measured.days[source]
  if (day === undefined) return
  const bent = Math.max(0.25, Math.min(4, power))
  const load = making.season.load[place.month] ?? 1
  const warmer = making.cover[place.month] === 'none' ? seasonalC(making, place.day, day.at) : 0
  out.monthOf[index] = place.month
  for (let i = 0; i < 24; i += 1) {
    const at = index * 24 + i
    const k = day.clearness[i] ?? Number.NaN
    out.cell[at] = cellIndex(place.stretch, (making.measured.midnightUtc + i) % 24)
    out.clearness[at] = Number.isNaN(k) ? 0 : k >= 1 ? Math.min(k, CLEAREST) : k ** bent
    out.loadWh[at] = (day.loadWh[i] ?? 0) * load
    out.pumpWh[at] = (day.pumpWh[i] ?? 0) * load
    out.batteryC[at] = (day.batteryC[i] ?? 15) + warmer
  }
}

/** How much warmer the target's season is than the measured day's: warmest in late July, in the south in late January. */
function seasonalC(making: Making, targetDay: number, at: number): number {
  const warmest = making.southern ? 20 : 202
  const sourceDay = (at - Date.UTC(new Date(at).getUTCFullYear(), 0, 1)) / DAY
  const wave = (day: number): number => Math.cos((2 * Math.PI * (day - warmest)) / 365.25)
  return making.season.swingC * (wave(targetDay) - wave(sourceDay))
}
