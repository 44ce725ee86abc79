/** Whether what a signal sends can be right: each check says what it found, and what to do where it is not. Pure. */
import type { NowBody } from '../bodies/now.js'
import type { SignalBody, SignalsBody } from '../bodies/signals.js'

/** `wait`: nothing to judge by yet; `look`: only a person at the place can tell. */
export type Verdict = 'good' | 'wrong' | 'wait' | 'look'

export type Check = { readonly what: string; readonly verdict: Verdict; readonly words: string }

/** What is known of the place, for telling what can be. */
export type Place = {
  readonly tankHeightM: number | null
  readonly nominalV: number | null
  readonly pumpRunning: boolean | null
}

export function placeOf(now: NowBody): Place {
  return {
    tankHeightM: now.tank?.height_m ?? null,
    nominalV: now.battery?.nominal_v ?? null,
    pumpRunning: now.pump?.known === true ? now.pump.running : null,
  }
}

const INTERVALS = 5
/** A sender that is this much too quick or too slow has another setting than the configuration says. */
const RATE_FACTOR = 2
const SURE = 3

function arrives(signal: SignalBody, everyS: number, ageS: number | null): Check {
  const what = 'Arrives'
  if (ageS === null) {
    const how = signal.decode === 'senml' ? ` under the name "${signal.name}"` : ` as ${signal.decode}`
    return { what, verdict: 'wait', words: `Nothing has come yet. It is expected on ${signal.topic}${how}.` }
  }
  if (signal.failed) return { what, verdict: 'wrong', words: 'The sensor says that it has failed: look at its wires.' }
  const seconds = Math.round(ageS)
  if (ageS > INTERVALS * everyS) return { what, verdict: 'wrong', words: `The last came ${seconds} s ago.` }
  return { what, verdict: 'good', words: `The last came ${Math.max(0, seconds)} s ago.` }
}

function rate(signal: SignalBody, everyS: number): Check {
  const what = 'Rate'
  const { lately } = signal
  if (lately === null || lately.n < 3) return { what, verdict: 'wait', words: 'Too few yet to tell.' }
  const due = (lately.minutes * 60) / everyS
  const words = `${lately.n} in ${lately.minutes} min; ${Math.round(due)} are due by expect_every`
  if (lately.n > RATE_FACTOR * due) return { what, verdict: 'look', words: `${words}: it sends more often than that.` }
  if (lately.n * RATE_FACTOR < due) {
    return { what, verdict: 'wait', words: `${words}. Fewer, unless it has only just begun.` }
  }
  return { what, verdict: 'good', words: `${words}.` }
}

type Bounds = { readonly low: number; readonly high: number; readonly because: string }

function bounds(signal: SignalBody, place: Place): Bounds | null {
  const { role } = signal
  const { tankHeightM, nominalV } = place
  if (role === 'tank-level' && tankHeightM !== null) {
    return { low: -0.05, high: tankHeightM * 1.02, because: 'the tank is no higher' }
  }
  if ((role === 'battery-voltage' || role === 'pump-voltage') && nominalV !== null) {
    const low = role === 'pump-voltage' ? 0 : nominalV * 0.75
    return { low, high: nominalV * 1.35, because: `the battery is one of ${nominalV} V` }
  }
  if (role === 'panel-voltage' && nominalV !== null) return { low: 0, high: 150, because: 'no small array gives more' }
  if (signal.unit === 'Cel') return { low: -45, high: 55, because: 'few places are' }
  if (signal.unit === '%RH') return { low: 3, high: 101, because: 'air is seldom otherwise' }
  return null
}

/** Units that people mistake for the SI one, by the factor that the value is then wrong by. */
const MISTAKEN: readonly (readonly [string, string, (value: number) => number])[] = [
  ['m', 'mm', (value) => value / 1000],
  ['m', 'cm', (value) => value / 100],
  ['m', 'in', (value) => value * 0.0254],
  ['V', 'mV', (value) => value / 1000],
  ['A', 'mA', (value) => value / 1000],
  ['Cel', 'degF', (value) => ((value - 32) * 5) / 9],
  ['%RH', '/', (value) => value * 100],
]

/** The units that would make sense of a value that cannot be. */
export function likelyUnits(signal: SignalBody, value: number, { low, high }: Bounds): string[] {
  return MISTAKEN.filter(([si, , convert]) => {
    const as = convert(value)
    return si === signal.unit && as >= low && as <= high && Math.abs(as) > (high - low) * 0.1
  }).map(([, unit]) => unit)
}

function range(signal: SignalBody, place: Place, refused: number): Check {
  const what = 'Unit and range'
  if (refused > 0 && signal.value === null) {
    const words = `${refused} records of this board were not believed: see "Records that were not believed" for their unit and value.`
    return { what, verdict: 'wrong', words }
  }
  if (signal.value === null) return { what, verdict: 'wait', words: 'No value yet.' }
  const within = bounds(signal, place)
  if (within === null) return { what, verdict: 'good', words: 'Within what this role can be.' }
  if (signal.value >= within.low && signal.value <= within.high) {
    return { what, verdict: 'good', words: 'As can be here.' }
  }
  const units = likelyUnits(signal, signal.value, within)
  const guess = units.length === 0 ? '' : ` Is it sent in ${units.join(' or ')}?`
  return { what, verdict: 'wrong', words: `Hardly so: ${within.because}.${guess}` }
}

function sign(signal: SignalBody, place: Place): Check | null {
  if (signal.unit !== 'A' || signal.value === null) return null
  const what = 'Sign'
  const least = SURE * signal.sd
  const { value, role } = signal
  if (role === 'battery-current') {
    return {
      what,
      verdict: 'look',
      words:
        'With a load on and no sun it must be negative; in full sun positive. If it is the other way round, press below.',
    }
  }
  if (value < -least) return { what, verdict: 'wrong', words: 'It is negative: the sensor is in the wrong way round.' }
  if (role === 'pump-current' && place.pumpRunning === true && value < least) {
    return { what, verdict: 'wrong', words: 'The pump runs and no current is seen.' }
  }
  return { what, verdict: 'good', words: 'Not negative.' }
}

/** How far the reading at rest lies from 0, where nothing flows. */
export function zeroOf(signal: SignalBody): number | null {
  return signal.unit !== 'A' || signal.lately === null ? null : signal.lately.mean
}

function zero(signal: SignalBody): Check | null {
  const mean = zeroOf(signal)
  if (mean === null) return null
  const what = 'Zero'
  const quiet = (signal.lately?.max ?? 0) - (signal.lately?.min ?? 0) < 6 * Math.max(signal.sd, 0.02)
  if (quiet && Math.abs(mean) <= SURE * signal.sd) return { what, verdict: 'good', words: 'At rest it says about 0.' }
  return { what, verdict: 'look', words: 'Switch off what it measures, wait 10 min, then take the reading as zero.' }
}

function still(signal: SignalBody): Check | null {
  const { lately } = signal
  if (signal.unit === '' || lately === null || lately.n < 10 || lately.max > lately.min) return null
  return { what: 'Moves', verdict: 'look', words: 'The very same number each time. Most sensors flicker: is it read?' }
}

/** All checks of one signal. `ageS`: since its last value; `refused`: records of its board that were not believed. */
export function checksOf(
  signal: SignalBody,
  boards: SignalsBody['boards'],
  place: Place,
  ageS: number | null,
  refused: number,
): Check[] {
  const everyS = boards.find(({ id }) => id === signal.board)?.expect_every_s ?? 30
  const checks = [arrives(signal, everyS, ageS)]
  if (ageS !== null || refused > 0) checks.push(range(signal, place, refused))
  if (ageS === null) return checks
  const more = [rate(signal, everyS), sign(signal, place), zero(signal), still(signal)]
  return [...checks, ...more.filter((check) => check !== null)]
}

/** The worst of several, for the line of the whole signal. */
export function worst(checks: readonly Check[]): Verdict {
  const order: readonly Verdict[] = ['wrong', 'wait', 'look', 'good']
  return order.find((verdict) => checks.some((check) => check.verdict === verdict)) ?? 'good'
}
