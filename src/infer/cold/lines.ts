/** Pipes in the cold: each line's temperature, from its own sensor or followed from the air, and what tonight does to it. */
import type { LineFacts } from '../../model/facts.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import { remember } from '../ring.js'
import type { EngineState } from '../state.js'
import { fitLine, quantile } from '../stats.js'
import { followOutlook, type Followed, type Outlook } from './course.js'
import type { LineState } from './line-state.js'
import { type Pipe, stand } from './pipe.js'
import { keep, round2 } from './state.js'

const AIR_STALE_MS = 30 * MINUTE
const OWN_STALE_MS = 30 * MINUTE
const DEADBAND_C = 0.5
const POINT_EVERY_MS = 5 * MINUTE
/** Water has flowed when the pump ran this lately. */
const FLOWED_MS = 10 * MINUTE
/** Cooling rates of which a time constant is learned; the quicker ones are those of standing water. */
const RATES = { kept: 48, needed: 12, quantile: 0.7 } as const
/** A line must be so much warmer than the air, and cool so much in half an hour, to show how it follows. */
const APART_C = 1.5
const COOLS_C = 0.1
const TAU_H = { least: 0.1, most: 72 } as const
/** How quickly the learned warmth around a line follows what its nights show, and its bounds. */
const WARMER = { gain: 0.3, stepC: 4, leastC: -3, mostC: 20 } as const
/** A night that is so many sd colder than expected, one in fifteen, tells when a line could be at 0 °C at the earliest. */
const EARLIEST_SD = 1.5
const MISS_BEFORE_C = 1
/** Of the miss of a whole night, what the rest of it still holds grows with the root of the hours up to these. */
const MISS_H = 8
/** A line that came this low may have been held by ice. */
const ICE_BELOW_C = 0.3
const MISS_BEFORE_NIGHTS = 4

/** A reading of a line's own sensor. */
export function takeLineTemperature(line: LineState, t: Ms, celsius: number): void {
  line.c = celsius
  line.t = t
}

/** Puts aside what was learned of the lines: another line, or a sensor elsewhere. */
export function forgetLines(lines: readonly LineState[]): void {
  for (const line of lines) {
    line.rates = []
    line.timeConstantH = null
    line.warmerC = 0
    line.missVar = 0
    line.misses = 0
  }
}

/** The pipe of a line with its learned time constant in the place of the reckoned one. */
function learnedPipe(plan: SitePlan, line: LineState, i: number): Pipe {
  const pipe = plan.pipes[i] ?? { timeConstantH: 1, iceC: 60 }
  return line.timeConstantH === null ? pipe : { timeConstantH: line.timeConstantH, iceC: pipe.iceC }
}

/** Moves the lines without a sensor of their own towards what is around them: a box with a thermometer, or the air. */
export function followAir(plan: SitePlan, state: EngineState, at: Ms): void {
  const airC = state.airC === null || at - state.airT > AIR_STALE_MS ? null : state.airC
  const { cold } = state
  const boxC = cold.boxC === null || at - cold.boxT > AIR_STALE_MS ? null : cold.boxC
  for (let i = 0; i < state.lines.length; i += 1) {
    const line = state.lines[i]
    const settings = plan.site.lines[i]
    if (line === undefined || settings === undefined || plan.lineSignals[i] !== null) continue
    if (settings.kind === 'buried') continue
    const aroundC = settings.kind === 'boxed' ? (boxC ?? airC) : airC
    if (aroundC === null) continue
    if (line.c === null || at - line.t > 6 * HOUR) {
      line.c = aroundC
      line.ice = 0
    } else {
      const water = { c: line.c, ice: line.ice }
      stand(water, plan.pipes[i] ?? { timeConstantH: 1, iceC: 60 }, aroundC, (at - line.t) / HOUR)
      line.c = water.c
      line.ice = water.ice
    }
    line.t = at
  }
}

/** Each half-hour, how quickly a line with a thermometer follows the air. */
export function learnRates(plan: SitePlan, state: EngineState, at: Ms): void {
  const airC = state.airC !== null && at - state.airT <= AIR_STALE_MS ? state.airC : null
  for (let i = 0; i < state.lines.length; i += 1) {
    const line = state.lines[i]
    if (line === undefined || plan.lineSignals[i] === null) continue
    const c = line.c !== null && at - line.t <= OWN_STALE_MS ? line.c : null
    if (c !== null && airC !== null && line.markC !== null && line.markAir !== null && !flows(state, at)) {
      noteRate(line, c, (airC + line.markAir) / 2, (at - line.markT) / HOUR)
    }
    line.markC = c
    line.markAir = airC
    line.markT = at
  }
}

function noteRate(line: LineState, c: number, airC: number, hours: number): void {
  const before = line.markC ?? c
  // At 0 °C water freezes instead of cooling, and says nothing of its lag.
  if (hours > 0.75 || c <= 0.3 || before - c < COOLS_C) return
  if (before - airC < APART_C || c - airC < APART_C / 2) return
  keep(line.rates, round2(Math.log((before - airC) / (c - airC)) / hours), RATES.kept)
  if (line.rates.length < RATES.needed) return
  line.timeConstantH = round2(Math.min(TAU_H.most, Math.max(TAU_H.least, 1 / quantile(line.rates, RATES.quantile))))
}

function flows(state: EngineState, at: Ms): boolean {
  const { run, lastEndAt } = state.pump
  return run !== null || (lastEndAt !== null && at - lastEndAt < FLOWED_MS)
}

/** What the night will do to each line. `ownSource`: the outlook is this line's own temperature already. */
export function lookAhead(
  plan: SitePlan,
  state: EngineState,
  at: Ms,
  outlook: Outlook | null,
  ownSource: number | null,
): void {
  for (let i = 0; i < state.lines.length; i += 1) {
    const line = state.lines[i]
    const settings = plan.site.lines[i]
    if (line === undefined || settings === undefined) continue
    const known = line.c !== null && at - line.t <= OWN_STALE_MS
    if (outlook === null || !known || line.c === null || settings.kind === 'buried') {
      Object.assign(line, { min: null, minAt: null, zeroAt: null, zeroFrom: null, iceAt: null })
      continue
    }
    const own = ownSource !== null && plan.lineSignals[i] === ownSource
    if (ownSource !== null && !own) {
      // Only another line's thermometer is there: it says nothing of this one.
      Object.assign(line, { min: null, minAt: null, zeroAt: null, zeroFrom: null, iceAt: null })
      continue
    }
    const pipe = own ? { timeConstantH: 0.05, iceC: plan.pipes[i]?.iceC ?? 60 } : learnedPipe(plan, line, i)
    ahead(line, outlook, pipe, at, own)
  }
}

function ahead(line: LineState, outlook: Outlook, pipe: Pipe, at: Ms, own: boolean): void {
  const water = { c: line.c ?? 0, ice: line.ice }
  const warmerC = own ? 0 : line.warmerC
  const expected: Followed = followOutlook(outlook, pipe, water, at, 0, warmerC)
  const colder: Followed = followOutlook(outlook, pipe, water, at, -EARLIEST_SD, warmerC)
  line.min = round2(expected.min)
  line.minAt = expected.minAt
  line.zeroAt = expected.zeroAt
  line.iceAt = expected.iceAt
  const missed = own
    ? 0
    : Math.sqrt(
        (MISS_BEFORE_C ** 2 * MISS_BEFORE_NIGHTS + line.missVar * line.misses) / (MISS_BEFORE_NIGHTS + line.misses),
      )
  const airSd = (expected.min - colder.min) / EARLIEST_SD
  const sd = Math.hypot(airSd, missed * Math.sqrt(Math.min(1, (expected.minAt - at) / HOUR / MISS_H)))
  line.minSd = round2(Math.max(0.2, sd))
  // What is not known of the line itself counts as colder surroundings.
  const further = EARLIEST_SD * (line.minSd - airSd)
  line.zeroFrom = followOutlook(outlook, pipe, water, at, -EARLIEST_SD, warmerC - further).zeroAt
}

/** From the evening on, beside each line with a thermometer, water that follows the air as it really is. */
export function noteEvening(lines: readonly LineState[]): void {
  for (const line of lines) {
    line.likeC = line.c
    line.likeMin = line.c ?? 0
    line.coldest = line.c
  }
}

export function noteNight(plan: SitePlan, lines: readonly LineState[], airC: number, hours: number): void {
  lines.forEach((line, i) => {
    if (line.likeC === null || line.coldest === null || plan.lineSignals[i] === null) return
    const { timeConstantH } = learnedPipe(plan, line, i)
    line.likeC += (airC + line.warmerC - line.likeC) * (1 - Math.exp(-hours / timeConstantH))
    line.likeMin = Math.min(line.likeMin, line.likeC)
    if (line.c !== null && line.c < line.coldest) line.coldest = line.c
  })
}

/** In the morning the two are compared: how well it is known how this line follows the air, apart from how the night came. */
export function noteMorning(plan: SitePlan, lines: readonly LineState[]): void {
  lines.forEach((line, i) => {
    const { likeC, likeMin, coldest } = line
    line.likeC = null
    line.coldest = null
    if (likeC === null || coldest === null || plan.lineSignals[i] === null) return
    // Where ice held it, it shows nothing of that.
    if (coldest <= ICE_BELOW_C) return
    const miss = coldest - likeMin
    line.misses = Math.min(20, line.misses + 1)
    line.missVar = round2(line.missVar + (miss * miss - line.missVar) / line.misses)
    const step = Math.max(-WARMER.stepC, Math.min(WARMER.stepC, miss))
    line.warmerC = round2(Math.max(WARMER.leastC, Math.min(WARMER.mostC, line.warmerC + WARMER.gain * step)))
  })
}

/** Fills in the facts of each line at a look. */
export function lookAtLines(plan: SitePlan, state: EngineState, at: Ms, out: LineFacts[]): void {
  for (let i = 0; i < state.lines.length; i += 1) {
    const line = state.lines[i]
    const facts = out[i]
    if (line === undefined || facts === undefined) continue
    const known = line.c !== null && at - line.t <= OWN_STALE_MS
    facts.temperatureC = known ? line.c : null
    facts.modelled = plan.lineSignals[i] === null
    facts.timeConstantLearned = line.timeConstantH !== null
    facts.timeConstantH = line.timeConstantH ?? plan.pipes[i]?.timeConstantH ?? null
    facts.flowing = flows(state, at)
    facts.expectedMinC = known ? line.min : null
    facts.expectedMinSdC = known && line.min !== null ? line.minSd : null
    facts.expectedMinAt = known ? line.minAt : null
    facts.hoursToZero = null
    facts.hoursToZeroLeast = null
    facts.hoursToIce = null
    if (!known || line.c === null) {
      facts.frozenSince = line.frozenSince
      continue
    }
    if (line.c <= (line.frozenSince === null ? 0 : DEADBAND_C)) line.frozenSince ??= at
    else line.frozenSince = null
    facts.frozenSince = line.frozenSince
    const lastPoint = line.points.t.at(-1)
    if (lastPoint === undefined || at - lastPoint >= POINT_EVERY_MS) remember(line.points, at, line.c)
    timesAhead(line, line.c, facts, at)
  }
}

/** By tonight's course where there is one; else as it falls now. */
function timesAhead(line: LineState, c: number, facts: LineFacts, at: Ms): void {
  if (line.iceAt !== null) facts.hoursToIce = Math.max(0, line.iceAt - at) / HOUR
  if (c <= 0) return
  if (line.min === null) {
    facts.hoursToZero = atPresentRate(line, c, at)
    facts.hoursToZeroLeast = facts.hoursToZero
    return
  }
  if (line.zeroAt !== null) facts.hoursToZero = Math.max(0, line.zeroAt - at) / HOUR
  if (line.zeroFrom !== null) facts.hoursToZeroLeast = Math.max(0, line.zeroFrom - at) / HOUR
}

function atPresentRate(line: LineState, c: number, at: Ms): number | null {
  const x: number[] = []
  const y: number[] = []
  for (let i = 0; i < line.points.t.length; i += 1) {
    const t = line.points.t[i] ?? 0
    if (at - t > 1.5 * HOUR) continue
    x.push((t - at) / HOUR)
    y.push(line.points.v[i] ?? 0)
  }
  if (x.length < 6) return null
  const fitted = fitLine(x, y)
  return fitted !== null && fitted.slope < -0.1 ? c / -fitted.slope : null
}
