/** What to keep in mind with an answer: said with it, not after it. */

import type { SizingResult } from '../../model/sizing.js'
import { MONTH_NAMES } from '../../model/time.js'
import type { Setup } from './setup.js'

export function monthName(month: number): string {
  return MONTH_NAMES[month - 1] ?? String(month)
}

/** "November to February" and the like: months in a row, around the turn of the year too. */
export function monthsWords(months: readonly number[]): string {
  const runs: number[][] = []
  for (const month of months) {
    const run = runs.at(-1)
    if (run !== undefined && run.at(-1) === month - 1) run.push(month)
    else runs.push([month])
  }
  const first = runs[0]
  const last = runs.at(-1)
  if (runs.length > 1 && first?.[0] === 1 && last?.at(-1) === 12) {
    runs.shift()
    last.push(...first)
  }
  const words = runs.map((run) => {
    const from = monthName(run[0] ?? 1)
    return run.length === 1 ? from : `${from}${run.length === 2 ? ' and ' : ' to '}${monthName(run.at(-1) ?? 1)}`
  })
  return words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} and ${words.at(-1) ?? ''}`
}

type Draft = Omit<SizingResult, 'cautions'>

export function cautionsOf(setup: Setup, result: Draft): readonly string[] {
  const { basis, recommended } = result
  const said: string[] = []
  const { uncoveredMonths: none } = basis
  if (none.length > 0) {
    said.push(
      `No data covers ${monthsWords(none)}: there the clear sky over this place is scaled by the shade and the skies of the measured days, and the range is wider for it.`,
    )
  }
  const worst = recommended?.worstMonth ?? result.options.find((option) => option.present)?.worstMonth ?? null
  if (worst !== null && none.includes(worst)) {
    said.push(`The hardest month, ${monthName(worst)}, is one of them. Ask again when it has been lived through.`)
  }
  if (basis.heldBackDays > 0.5 * basis.usableDays) {
    said.push(
      `On ${basis.heldBackDays} of ${basis.usableDays} days a full battery held the array back: how the sky was in those hours is taken from the hours beside them.`,
    )
  }
  if (basis.loadFrom === 'balance') {
    said.push(
      'The battery’s current is not measured: what house and boards take is reckoned from what the array gave on the long mean, evenly by day and night.',
    )
  }
  if (setup.measured.temperatureFrom !== 'battery') {
    said.push(
      setup.measured.temperatureFrom === 'air'
        ? 'The battery’s temperature is not measured: it is taken as 5 °C above the air.'
        : 'No temperature is measured: cold is not in the figures.',
    )
  }
  if (result.verdict === 'answered' && recommended === null) {
    said.push(
      `None of these sizes is short on ${result.shortDaysAllowed} days a year or fewer. Look at what else can be changed.`,
    )
  }
  const { pumpShare } = setup.needs
  if (pumpShare > 1.5 || pumpShare < 0.5) {
    said.push(
      `The need is ${pumpShare.toFixed(1)} times what was pumped. The well must give it, too: this is about energy alone.`,
    )
  }
  for (const spell of basis.soiled.slice(-3)) {
    const from = new Date(spell.from).toISOString().slice(0, 10)
    const left = Math.round(100 * spell.share)
    said.push(
      spell.kind === 'covered'
        ? `From ${from} the array gave ${left} % of its usual in all hours, as under snow. It is not counted as shade.`
        : `From ${from} the array gave ${left} % of its usual in all hours: dirt, or weeks without one clear hour. It is not counted as shade.`,
    )
  }
  said.push(
    'A short day is one on which more than 2 % of what was asked for could not be given. A generator, or doing without for a day, is not in it.',
  )
  return said
}
