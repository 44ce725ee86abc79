/** Who is there and what they draw: single uses at hours of the day that people keep, seen as a flow out of the tank. */
import { DAY, HOUR, MINUTE, type Ms } from '../src/model/time.js'
import type { LocalTime } from './local-time.js'
import { Random } from './random.js'

/** A spell within the simulated time, in days from its start. */
export type Spell = { readonly fromDay: number; readonly toDay: number }
export type GuestSpell = Spell & { readonly people: number }

type Use = {
  /** For each person, each day. */
  readonly timesADay: number
  readonly flowLMin: number
  readonly seconds: number
  /** The same again after a pause, as a washing machine fills. */
  readonly fills: number
  readonly hours: keyof typeof HOURS
}

/** Share of a day's uses that falls into each hour; sums to 1 after division by the sum. */
const HOURS = {
  waking: [0.3, 0.2, 0.2, 0.2, 0.3, 1, 4, 7, 6, 4, 3, 3, 4, 3, 3, 3, 4, 6, 7, 6, 5, 4, 2, 1],
  mornings: [0, 0, 0, 0, 0, 1, 6, 9, 6, 2, 1, 0, 0, 0, 0, 0, 1, 2, 3, 4, 4, 3, 1, 0],
  meals: [0, 0, 0, 0, 0, 0, 0, 2, 3, 1, 0, 0, 3, 3, 0, 0, 0, 0, 4, 6, 4, 1, 0, 0],
  days: [0, 0, 0, 0, 0, 0, 0, 0, 1, 4, 5, 4, 2, 3, 3, 2, 1, 0, 0, 0, 0, 0, 0, 0],
} as const

/** About 105 l for each person and day, within the trade's 50 to 125 (common practice). */
const USES: readonly Use[] = [
  { timesADay: 5, flowLMin: 6, seconds: 60, fills: 1, hours: 'waking' },
  { timesADay: 12, flowLMin: 4, seconds: 30, fills: 1, hours: 'waking' },
  { timesADay: 1, flowLMin: 3.5, seconds: 240, fills: 1, hours: 'meals' },
  { timesADay: 0.65, flowLMin: 6.5, seconds: 360, fills: 1, hours: 'mornings' },
  { timesADay: 0.22, flowLMin: 8, seconds: 150, fills: 3, hours: 'days' },
  // The long shower that now and then falls into a fill.
  { timesADay: 0.05, flowLMin: 7, seconds: 960, fills: 1, hours: 'mornings' },
]
/** When gardens are watered: before the heat and after it. */
const GARDEN_HOURS: readonly number[] = [6, 7, 18, 19, 20]
const WEIGHT_SUM = new Map<Use['hours'], number>()
for (const use of USES)
  WEIGHT_SUM.set(
    use.hours,
    [...HOURS[use.hours]].reduce((sum: number, weight) => sum + weight, 0),
  )

type Draw = { readonly from: Ms; readonly to: Ms; readonly flowLMin: number }

/** A garden by the house: watered in dry weeks, morning or evening, with a hose. */
export type Garden = { readonly timesAWeek: number; readonly flowLMin: number; readonly minutes: number }

export type HouseholdOptions = {
  readonly people: number
  readonly guests: readonly GuestSpell[]
  readonly away: readonly Spell[]
  readonly garden?: Garden
}

export class Household {
  /** Flow out of the tank now, l/min. */
  flowLMin = 0
  peopleNow = 0
  readonly #options: HouseholdOptions
  readonly #startMs: Ms
  readonly #local: LocalTime
  readonly #random: Random
  /** Of the garden alone, so that the house's draws are the same with and without one. */
  readonly #gardenRandom: Random
  #draws: Draw[] = []
  #nextChange = Number.POSITIVE_INFINITY

  constructor(options: HouseholdOptions, seed: number, startMs: Ms, local: LocalTime) {
    this.#options = options
    this.#startMs = startMs
    this.#local = local
    this.#random = new Random(seed, 'household')
    this.#gardenRandom = new Random(seed, 'garden')
  }

  /** Once a minute: what begins in the minute from `at`. */
  minute(at: Ms): void {
    this.peopleNow = this.#people(at)
    if (this.peopleNow === 0) return
    const hour = Math.floor(this.#local.hourOfDay(at))
    this.#waterGarden(hour, at)
    for (const use of USES) {
      const share = (HOURS[use.hours][hour] ?? 0) / (WEIGHT_SUM.get(use.hours) ?? 1)
      if (this.#random.chance((use.timesADay * this.peopleNow * share) / 60)) this.#begin(use, at)
    }
  }

  /** Once a second. */
  second(at: Ms): void {
    if (at < this.#nextChange) return
    this.#draws = this.#draws.filter((draw) => draw.to > at)
    this.flowLMin = 0
    this.#nextChange = Number.POSITIVE_INFINITY
    for (const draw of this.#draws) {
      if (draw.from <= at) this.flowLMin += draw.flowLMin
      this.#nextChange = Math.min(this.#nextChange, draw.from > at ? draw.from : draw.to)
    }
  }

  #waterGarden(hour: number, at: Ms): void {
    const { garden } = this.#options
    if (garden === undefined || !GARDEN_HOURS.includes(hour)) return
    if (!this.#gardenRandom.chance(garden.timesAWeek / 7 / (GARDEN_HOURS.length * 60))) return
    const minutes = garden.minutes * this.#gardenRandom.between(0.5, 1.5)
    this.#draws.push({ from: at, to: at + Math.round(minutes * 60) * 1_000, flowLMin: garden.flowLMin })
    this.#nextChange = Math.min(this.#nextChange, at)
  }

  #begin(use: Use, at: Ms): void {
    const flowLMin = use.flowLMin * this.#random.between(0.8, 1.2)
    for (let fill = 0; fill < use.fills; fill++) {
      const from = at + Math.floor(this.#random.next() * 60) * 1_000 + fill * 12 * MINUTE
      const to = from + Math.round(use.seconds * this.#random.between(0.5, 1.5)) * 1_000
      this.#draws.push({ from, to, flowLMin })
      this.#nextChange = Math.min(this.#nextChange, from)
    }
  }

  #people(at: Ms): number {
    const day = (at - this.#startMs) / DAY
    let people = this.#options.people
    for (const spell of this.#options.away) if (day >= spell.fromDay && day < spell.toDay) people = 0
    for (const spell of this.#options.guests) if (day >= spell.fromDay && day < spell.toDay) people += spell.people
    return people
  }

  /** Lamps and kitchen from dusk to bedtime, 0…1, when somebody is there. */
  eveningShare(at: Ms): number {
    if (this.peopleNow === 0) return 0
    const hour = this.#local.hourOfDay(at - (at % HOUR))
    return hour >= 18 && hour < 23 ? 1 : hour >= 6 && hour < 8 ? 0.4 : 0.08
  }
}
