/** Sentences about sizes, the same on the page and in the terminal. They work on the body of the API. */

import type { UnitSystem } from '../../model/settings.js'
import { MONTH_NAMES } from '../../model/time.js'
import type { SizingBody } from '../bodies/sizing.js'
import { quantity } from './quantity.js'

export type SizeOptionBody = SizingBody['options'][number]

export function monthWord(month: number): string {
  return MONTH_NAMES[month - 1] ?? String(month)
}

export function sizeWords(option: Pick<SizeOptionBody, 'array_w' | 'battery_ah'>): string {
  return `${Math.round(option.array_w)} W and ${Math.round(option.battery_ah)} Ah`
}

/** Days a year as people say them. */
export function daysWords(days: number): string {
  if (days < 0.05) return 'none'
  if (days < 0.7) return `one in ${Math.round(1 / days)} years`
  return days < 9.5 ? `${days.toFixed(1)} a year` : `${Math.round(days)} a year`
}

export function rangeWords([low, high]: readonly [number, number]): string {
  const word = (days: number): string => (days < 0.05 ? '0' : days < 9.5 ? days.toFixed(1) : String(Math.round(days)))
  return `${word(low)} to ${word(high)}`
}

/** What to get, in a sentence or two. */
export function adviceLines(body: SizingBody): readonly string[] {
  const { recommended, sure, options } = body
  const present = options.find((option) => option.present)
  const lines: string[] = []
  if (body.reason !== null) lines.push(body.reason)
  if (present !== undefined) {
    lines.push(
      `What stands there now, ${sizeWords(present)}, is short on ${daysCount(present.short_days_per_year)} (${rangeWords(present.short_days_ci95)}), most of all in ${monthWord(present.worst_month)}.`,
    )
  }
  if (recommended !== null) {
    const same = present !== undefined && sizeWords(present) === sizeWords(recommended)
    lines.push(
      same
        ? `That is enough for at most ${daysCount(body.short_days_allowed)}, as far as is known.`
        : `The smallest that is short on at most ${daysCount(body.short_days_allowed)}, as far as is known: ${sizeWords(recommended)} (${rangeWords(recommended.short_days_ci95)}).`,
    )
  }
  if (sure !== null && recommended !== null && sizeWords(sure) !== sizeWords(recommended)) {
    lines.push(`To be sure of it in 95 of 100 cases: ${sizeWords(sure)}.`)
  }
  return lines
}

function daysCount(days: number): string {
  if (days < 0.05) return 'no day'
  if (days < 0.7) return `a day in ${Math.round(1 / days)} years`
  if (days <= 1.05) return 'a day a year'
  return `${days < 9.5 ? Number(days.toFixed(1)) : Math.round(days)} days a year`
}

/** What it rests on. */
export function basisLines(body: SizingBody, units: UnitSystem): readonly string[] {
  const { basis } = body
  const lines: string[] = []
  const span =
    basis.from === null || basis.to === null ? '' : ` from ${basis.from.slice(0, 10)} to ${basis.to.slice(0, 10)}`
  lines.push(
    `${basis.usable_days} usable days${span}; on ${basis.held_back_days} of them a full battery held the array back; ${basis.missing_days} are missing.`,
  )
  if (basis.load_wh_per_day !== null) {
    const pump =
      basis.pump_wh_per_day === null ? '' : `, ${quantity('energy', basis.pump_wh_per_day, units)} of it for the pump`
    const need =
      basis.need_l_per_day === null ? '' : `, for ${quantity('volume', basis.need_l_per_day, units)} of water a day`
    lines.push(`${quantity('energy', basis.load_wh_per_day, units)} a day are asked for${pump}${need}.`)
  }
  if (basis.performance !== null && basis.shade !== null) {
    lines.push(
      `Under a clear sky the open array gives ${percent(basis.performance)} of its rating; shade leaves ${percent(basis.shade)} of the year’s sun.`,
    )
  }
  if (basis.sun_over_load !== null && basis.stored_days !== null) {
    const tank = basis.tank_days === null ? '' : `; a full tank carries ${basis.tank_days.toFixed(1)} days of water`
    lines.push(
      `In these days the array could have given ${basis.sun_over_load.toFixed(1)} times what was asked for, and the battery carries ${basis.stored_days.toFixed(1)} days of it${tank}.`,
    )
  }
  if (basis.years > 0) lines.push(`Each size was lived through ${basis.years} years of resampled days.`)
  return lines
}

/** The hand method, to check the rest by. */
export function handLine(body: SizingBody): string | null {
  const hand = body.hand_method
  if (hand === null) return null
  return (
    `By hand: ${monthWord(hand.month)} asks for ${Math.round(hand.load_wh)} Wh a day and has ${hand.sun_hours.toFixed(1)} h of full sun; ` +
    `with ${percent(hand.derate)} of it arriving that is ${Math.round(hand.array_w)} W. ` +
    `${hand.autonomy_days} days without sun, ${percent(hand.depth)} deep${hand.cold > 1.005 ? ` and ${percent(hand.cold - 1)} more for the cold` : ''}: ${Math.round(hand.battery_ah)} Ah.`
  )
}

export function wireLine(body: SizingBody): string | null {
  const { wire } = body
  if (wire === null) return null
  return `Copper from array to battery at the battery’s voltage: ${wire.awg} or thicker for ${wire.one_way_m} m one way (${wire.amperes.toFixed(0)} A, ${(100 * wire.drop_share).toFixed(1)} % lost); at a higher panel voltage it may be thinner.`
}

function percent(share: number): string {
  return `${Math.round(100 * share)} %`
}
