/**
 * How much panel and battery a place needs, from its own days: shade and sky learned, years drawn from measured days,
 * every size lived through hour by hour. Pure: a seed is handed in, and the work is done in pieces that a caller may
 * spread over time.
 */
import type { SizeOption, SizingResult } from '../../model/sizing.js'
import type { Ms } from '../../model/time.js'
import { arrayPlaceOf } from '../energy/clear.js'
import { learnShade } from '../energy/shade.js'
import { basisOf, needsOf } from './basis.js'
import { batteryRules } from './battery-rules.js'
import { cautionsOf } from './cautions.js'
import { changesFor, type ChangeRun } from './changes.js'
import { handFor } from './hand-months.js'
import { measuredDays } from './measured.js'
import { arraySizes, batterySizes, roughCost } from './options.js'
import { chanceOf } from './random.js'
import { type Course, live, type Lived, nothingLived, type Supply } from './simulate.js'
import { courseOf, type Setup, type SizingInput, supplyOf } from './setup.js'
import { presentTable } from './tables.js'
import { summary } from './summary.js'
import { wireFor } from './wire.js'
import { createYears, type Drawn } from './years.js'

/** With fewer usable days nothing is said; with fewer than the second number only how wide the range is. */
export const DAYS_LEAST = 14
export const DAYS_GOOD = 30
const DRAWS = 100
const YEARS = 3
const CAPACITY_SD = 0.05
const PERFORMANCE_SD = 0.03

/** Runs `sizing` to its end. */
export function size(input: SizingInput): SizingResult {
  const work = sizing(input)
  for (let step = work.next(); ; step = work.next()) if (step.done === true) return step.value
}

/** Yields how much is done, 0…1, some hundred times; returns the answer. */
export function* sizing(input: SizingInput): Generator<number, SizingResult> {
  const { site, hours } = input
  const array = arrayPlaceOf(site)
  const { battery } = site
  if (array === null)
    return declined(
      input,
      null,
      'The sun at the place is not known: the configuration needs site.latitude, site.longitude and array.rated.',
    )
  if (battery === null) return declined(input, null, 'The battery is not described in the configuration.')
  if (!hours.some((hour) => hour.freeClearWh !== null))
    return declined(
      input,
      null,
      'What the array gives is not measured: panel-voltage and panel-current are needed, or no hour of them has been stored yet.',
    )
  const year = hours.at(-1)?.at ?? 0
  const shade = learnShade(hours, array, year)
  yield 0.01
  const { efficiency } = batteryRules(battery.chemistry)
  const measured = measuredDays(hours, shade, {
    longitudeDeg: array.place.longitudeDeg,
    ratedW: array.ratedW,
    batteryEfficiency: efficiency,
    converterShare: input.converterShare,
  })
  yield 0.02
  const needs = needsOf(input, measured)
  const years = createYears(measured, array.place.latitudeDeg < 0)
  const setup: Setup = { input, array, shade, measured, needs, years, volts: battery.nominalVoltageV }
  const usable = measured.days.length
  if (usable < DAYS_LEAST) {
    return declined(
      input,
      setup,
      `There are ${usable} usable days so far; at least ${DAYS_LEAST} are needed, better ${DAYS_GOOD} and best a whole year.`,
    )
  }
  const runs = makeRuns(setup)
  const changeRuns = changesFor(setup)
  const draws = input.draws ?? DRAWS
  const present = presentTable(shade)
  const totals = runs.map(() => [] as Lived[])
  const changeTotals = changeRuns.map(() => [] as Lived[])
  for (let draw = 0; draw < draws; draw += 1) {
    const chance = chanceOf((input.seed * 7919 + draw * 104_729 + 1) >>> 0)
    const luck = {
      capacity: clampShare(1 + CAPACITY_SD * chance.normal()),
      sun: clampShare(1 + PERFORMANCE_SD * chance.normal()),
    }
    const drawn = years.draw(chance, input.yearsPerDraw ?? YEARS, true)
    const course = courseOf(setup, drawn, { table: present }, luck.sun)
    for (const [i, run] of runs.entries()) totals[i]?.push(lived(course, run, luck))
    for (const [i, run] of changeRuns.entries()) changeTotals[i]?.push(livedChanged(setup, drawn, run, luck))
    yield 0.02 + (0.98 * (draw + 1)) / draws
  }
  const options = runs.map((run, i) => optionOf(setup, run, totals[i] ?? []))
  return answer(setup, options, changeRuns, changeTotals)
}

export type Run = {
  readonly arrayW: number
  readonly batteryAh: number
  readonly supply: Supply
  readonly present: boolean
}
export type Luck = { readonly capacity: number; readonly sun: number }

function clampShare(share: number): number {
  return Math.max(0.5, Math.min(1.5, share))
}

function makeRuns(setup: Setup): readonly Run[] {
  const presentAh = setup.input.site.battery?.capacityAh ?? null
  return arraySizes(setup.array.ratedW).flatMap((arrayW) =>
    batterySizes(presentAh, setup.volts).map((batteryAh) => ({
      arrayW,
      batteryAh,
      supply: supplyOf(setup, arrayW, batteryAh),
      present: arrayW === setup.array.ratedW && batteryAh === presentAh,
    })),
  )
}

function lived(course: Course, run: Run, luck: Luck): Lived {
  const into = nothingLived()
  live(course, { ...run.supply, usableWh: run.supply.usableWh * luck.capacity }, into)
  return into
}

function livedChanged(setup: Setup, drawn: Drawn, run: ChangeRun, luck: Luck): Lived {
  const into = nothingLived()
  live(courseOf(setup, drawn, run, luck.sun), { ...run.supply, usableWh: run.supply.usableWh * luck.capacity }, into)
  return into
}

function optionOf(setup: Setup, run: Run, totals: readonly Lived[]): SizeOption {
  const years = setup.input.yearsPerDraw ?? YEARS
  const { mean, ci95, month, lossOfLoad } = summary(totals, years)
  return {
    arrayW: run.arrayW,
    batteryAh: run.batteryAh,
    shortDaysPerYear: mean,
    shortDaysCi95: ci95,
    worstMonth: month ?? leanestMonth(setup),
    lossOfLoad,
    present: run.present,
  }
}

/** The month whose load asks for the largest array. */
function leanestMonth(setup: Setup): number {
  return handFor(setup)?.month ?? 12
}

function answer(
  setup: Setup,
  options: readonly SizeOption[],
  changeRuns: readonly ChangeRun[],
  changeTotals: readonly (readonly Lived[])[],
): SizingResult {
  const { input } = setup
  const years = input.yearsPerDraw ?? YEARS
  const enough = setup.measured.days.length >= DAYS_GOOD
  const meets = (figure: (option: SizeOption) => number): SizeOption | null =>
    smallest(
      setup,
      options.filter((option) => figure(option) <= input.shortDaysAllowed),
    )
  const recommended = enough ? meets((option) => option.shortDaysPerYear) : null
  const result = {
    site: input.site.id,
    verdict: enough ? ('answered' as const) : ('range' as const),
    reason: enough
      ? null
      : `Only ${setup.measured.days.length} usable days: too little data for one answer. What is shown is how wide the range is.`,
    shortDaysAllowed: input.shortDaysAllowed,
    basis: basisOf(setup, (input.draws ?? DRAWS) * years),
    options,
    recommended,
    sure: enough ? meets((option) => option.shortDaysCi95[1]) : null,
    changes: changeRuns.map((run, i) => {
      const { mean, ci95 } = summary(changeTotals[i] ?? [], years)
      return { change: run.change, words: run.words, shortDaysPerYear: mean, shortDaysCi95: ci95 }
    }),
    hand: handFor(setup),
    wire: recommended === null ? null : wireFor(recommended.arrayW, setup.volts),
  }
  return { ...result, cautions: cautionsOf(setup, result) }
}

function smallest(setup: Setup, options: readonly SizeOption[]): SizeOption | null {
  const lithium = setup.input.site.battery?.chemistry === 'lifepo4'
  const cost = (option: SizeOption): number => roughCost(option.arrayW, option.batteryAh * setup.volts, lithium)
  let best: SizeOption | null = null
  for (const option of options) if (best === null || cost(option) < cost(best)) best = option
  return best
}

function declined(input: SizingInput, setup: Setup | null, reason: string): SizingResult {
  return {
    site: input.site.id,
    verdict: 'declined',
    reason,
    shortDaysAllowed: input.shortDaysAllowed,
    basis: basisOf(setup, 0),
    options: [],
    recommended: null,
    sure: null,
    changes: [],
    hand: setup === null ? null : handFor(setup),
    wire: null,
    cautions: [],
  }
}

/** Where two runs are asked for on other days, the same data give the same answer: the seed follows from the data's end. */
export function seedFor(lastHour: Ms): number {
  return Math.floor(lastHour / 3_600_000) >>> 0
}
