/** The readings that the diagnosis weighs, taken from the facts of one look. What is not known is left out. */
import type { View } from '../definition.js'
import { coldestLineC } from './cold.js'
import type { Band } from './likelihood.js'

export const NUMBERS = ['power', 'rise', 'rate', 'hunt', 'volts', 'cold'] as const
export const SIGNS = [
  'from-start',
  'crept-up',
  'level-frozen',
  'nobody-there',
  'jammed-before',
  'ran-dry-before',
  'unasked',
  'tank-rises',
  'was-low',
] as const
export type NumberReading = (typeof NUMBERS)[number]
export type SignReading = (typeof SIGNS)[number]
export type ReadingName = NumberReading | SignReading

/** All that each can be: the yardstick for "nothing known". */
export const RANGES: Readonly<Record<NumberReading, Band>> = {
  /** Watts over usual watts at this voltage. */
  power: [0, 4],
  /** Rise of the tank over the usual flow. */
  rise: [-1, 1.3],
  /** The pump's own rate, draws taken out, over its usual. */
  rate: [0, 1.3],
  /** Decimal logarithm of the spread of the current over its usual spread. */
  hunt: [-1, 1.5],
  /** Voltage over the lowest that this chemistry allows under load. */
  volts: [0.85, 1.25],
  /** Coldest line, °C. */
  cold: [-25, 35],
}

export type Readings = {
  readonly numbers: Partial<Record<NumberReading, { readonly value: number; readonly sd: number }>>
  readonly signs: Partial<Record<SignReading, boolean>>
}

const DAY_MS = 86_400_000
/** An ordinary fill draws the well down a little: two or three per cent more current by its end. */
const CREPT = 0.05

export function readingsOf(view: View): Readings {
  const { facts } = view
  const { evidence, water, battery } = facts
  const numbers: Record<string, { value: number; sd: number }> = {}
  const put = (name: NumberReading, value: number | null, sd: number | null): void => {
    if (value === null || sd === null || !Number.isFinite(value) || !Number.isFinite(sd)) return
    const [low, high] = RANGES[name]
    numbers[name] = { value: Math.min(high, Math.max(low, value)), sd }
  }
  put('power', powerShare(view), evidence.powerShareSd ?? 0.08)
  put('rise', evidence.riseShare, evidence.riseShareSd)
  put('rate', water.rateShare, 0.05)
  if (evidence.huntShare !== null && evidence.usualHuntShare !== null && evidence.usualHuntShare > 0) {
    put('hunt', Math.log10(Math.max(0.1, evidence.huntShare / evidence.usualHuntShare)), 0.15)
  }
  const volts = battery.recentV ?? battery.voltageV
  put('volts', volts !== null && battery.loadedLowV !== null ? volts / battery.loadedLowV : null, 0.005)
  put('cold', coldestLineC(facts), 1)
  return { numbers, signs: signsOf(view) }
}

/** Watts where there is a voltage, else amperes against their usual here. */
function powerShare({ facts }: View): number | null {
  const { evidence, pump } = facts
  if (evidence.powerShare !== null) return evidence.powerShare
  const usual = pump.usualHereA ?? pump.usualA?.value ?? null
  const amps = pump.running ? (pump.recentA ?? pump.currentA) : pump.lastEndA
  return amps === null || usual === null || usual <= 0 ? null : amps / usual
}

function signsOf(view: View): Readings['signs'] {
  const { facts, modes } = view
  const { pump, evidence, battery } = facts
  const signs: Partial<Record<SignReading, boolean>> = {
    'level-frozen': facts.suspects.some((one) => one.kind === 'stuck' && one.key.startsWith('tank-level')),
    'jammed-before': pump.heavyTriesIn10Min > 0 || pump.lastEnd === 'stalled',
    'was-low': battery.lastLowAt !== null,
  }
  if (pump.lightSince !== null) signs['from-start'] = pump.lightFromStart
  if (facts.water.levelM !== null) {
    signs['tank-rises'] = facts.suspects.some((one) => one.kind === 'stuck' && one.key.startsWith('pump-current'))
  }
  if (facts.occupied !== null || modes.away) signs['nobody-there'] = modes.away || facts.occupied === false
  if (evidence.creepShare !== null) signs['crept-up'] = evidence.creepShare >= CREPT
  if (evidence.unasked !== null) signs.unasked = evidence.unasked
  signs['ran-dry-before'] =
    facts.episode.known || (pump.lastEnd === 'dry' && pump.lastEndAt !== null && view.at - pump.lastEndAt < DAY_MS)
  return signs
}
