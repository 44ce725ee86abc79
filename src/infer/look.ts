/** What is so at one look: the engine's memory told as facts, for the alarms and the page. */
import type { Facts } from '../model/facts.js'
import { emptyBalanceFacts } from '../model/facts-balance.js'
import { emptyWellFacts } from '../model/facts-well.js'
import { emptyPowerFacts } from '../model/facts-power.js'
import { emptyTrendFacts } from '../model/facts-trend.js'
import { nothingLost } from '../model/facts-loss.js'
import { emptyHouseFacts } from '../model/facts-house.js'
import type { SiteSettings } from '../model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../model/time.js'
import { fallVH, isLoaded, lookAtVoltage, recentVoltage } from './battery.js'
import { emptyCold, lookAtCold } from './cold/look.js'
import { levelNoiseM, rateShare, usualDrawLH } from './delivered.js'
import { fullLevelM } from './ending.js'
import { lookAtBalance } from './energy/balance.js'
import { emptyEpisode, lookAtEpisode } from './episode/look.js'
import { emptyEvidence, lookAtEvidence } from './evidence/look.js'
import { followBoards } from './boards/gaps.js'
import { lookAtHouse } from './house/look.js'
import { lookAtLoss } from './loss/look.js'
import type { SitePlan } from './plan.js'
import { lookAtPower } from './power/look.js'
import { refreshRunCurrent, startWindowS, usualCurrent, usualCurrentHere } from './pump.js'
import { between, leastBetween } from './ring.js'
import type { EngineState } from './state.js'
import { median } from './stats.js'
import { lookAtSuspects } from './suspects.js'
import { volumeAt } from './tank.js'
import { lookAtTrend } from './trend/look.js'
import { usual } from './usual.js'
import { lookAtWell } from './well/well.js'
import { expectedFlowLMin, lookAtMarks, lookAtRise, recentLevelM } from './water.js'

/** The site's own figures may be relied on after this many complete fills, or this long. */
export const LEARNED_FILLS = 8
export const LEARNED_MS = 14 * DAY

/** An empty record of the right shape; the engine fills the same one at each look. */
export function emptyFacts(site: SiteSettings): Facts {
  return {
    at: 0,
    completeFills: 0,
    learning: true,
    pump: {
      known: false,
      running: false,
      since: null,
      ranS: 0,
      settled: false,
      currentA: null,
      recentA: null,
      recentCount: 0,
      runA: null,
      usualA: null,
      usualHereA: null,
      lightSince: null,
      heavySince: null,
      lightCount: 0,
      heavyCount: 0,
      lightFromStart: false,
      heavyTriesIn10Min: 0,
      startsIn10Min: 0,
      lastEndAt: null,
      lastEnd: null,
      lastEndA: null,
      restingUntil: null,
    },
    water: {
      levelM: null,
      levelSdM: null,
      volumeL: null,
      volumeSdL: null,
      reckoned: false,
      lowWet: null,
      lowSince: null,
      highWet: null,
      highSince: null,
      fullWet: null,
      fullSince: null,
      calledSince: null,
      atHighSince: null,
      pastFullSince: null,
      expectedRiseL: null,
      seenRiseL: null,
      riseSdL: null,
      riseWindowS: 0,
      arriving: null,
      arrivedAt: null,
      noRiseSince: null,
      usualFlowLMin: null,
      rateShare: null,
      expectedFillS: null,
      drawLH: null,
      hoursLeft: null,
    },
    battery: {
      voltageV: null,
      recentV: null,
      loaded: false,
      restLowV: null,
      loadedLowV: null,
      cutOffV: null,
      lowSince: null,
      lastLowAt: null,
      rejoinV: null,
      fallVH: null,
      hoursToCutOff: null,
      lowest30MinV: null,
      temperatureC: null,
    },
    lines: site.lines.map((line) => ({
      name: line.name,
      temperatureC: null,
      modelled: true,
      frozenSince: null,
      hoursToZero: null,
      hoursToZeroLeast: null,
      hoursToIce: null,
      expectedMinC: null,
      expectedMinSdC: null,
      expectedMinAt: null,
      depthM: line.kind === 'buried' ? line.depthM : null,
      timeConstantH: null,
      timeConstantLearned: false,
      flowing: false,
    })),
    cold: emptyCold(),
    boards: site.boards.map((board) => ({ id: board.id, expectEveryS: board.expectEveryS, lastHeard: null })),
    lastHeard: null,
    firstHeard: null,
    longestOutageMs: 0,
    airC: null,
    occupied: null,
    suspects: [],
    house: emptyHouseFacts(),
    evidence: emptyEvidence(),
    trend: emptyTrendFacts(),
    episode: emptyEpisode(),
    loss: nothingLost(),
    balance: emptyBalanceFacts(),
    well: emptyWellFacts(),
    power: emptyPowerFacts(),
  }
}

/** Brings the facts up to the look at `at`. Also keeps what only looks keep: marks, spells, modelled lines. */
export function look(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  facts.at = at
  facts.completeFills = state.completeFills
  facts.learning =
    state.completeFills < LEARNED_FILLS && (state.firstHeard === null || at - state.firstHeard < LEARNED_MS)
  lookAtPump(plan, state, at, facts)
  lookAtWater(plan, state, at, facts)
  lookAtBattery(plan, state, at, facts)
  lookAtCold(plan, state, at, facts)
  for (let i = 0; i < facts.boards.length; i += 1) {
    const board = facts.boards[i]
    if (board !== undefined) board.lastHeard = state.boards[i] ?? null
  }
  facts.lastHeard = state.lastHeard
  facts.firstHeard = state.firstHeard
  facts.longestOutageMs = longestOutage(state, at)
  facts.airC = at - state.airT < 30 * MINUTE ? state.airC : null
  facts.occupied = state.occupied
  lookAtEpisode(state, at, facts.episode)
  lookAtLoss(plan, state, at, facts)
  lookAtEvidence(plan, state, at, facts)
  lookAtTrend(state, facts)
  lookAtHouse(plan, state.house, at, facts.house)
  followBoards(state, at)
  lookAtSuspects(plan, state, at, facts.suspects)
  lookAtBalance(plan, state, at, facts.balance)
  lookAtWell(plan, state, at, facts.well)
  lookAtPower(plan, state, at, facts)
}

function lookAtPump(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const { pump } = state
  const out = facts.pump
  const signal = plan.index['pump-current']
  const stale = signal === undefined ? 0 : (plan.signals[signal]?.staleMs ?? 0)
  out.known = pump.seen && at - pump.lastT <= stale
  const run = pump.run !== null && pump.run.end === null ? pump.run : null
  out.running = run !== null
  out.since = run?.start ?? null
  out.ranS = run === null ? 0 : (Math.max(at, run.firstOn) - run.start) / 1000
  out.settled = run !== null && at - run.firstOn >= startWindowS(state) * 1000
  out.currentA = out.known ? pump.lastA : null
  const recent = run === null ? [] : between(pump.recent, Math.max(run.firstOn, at - MINUTE), at)
  out.recentA = recent.length > 0 ? median(recent) : null
  out.recentCount = recent.length
  if (run !== null) refreshRunCurrent(run, at)
  out.runA = run?.runA ?? null
  const learned = usual(state.usual.currentA)
  const rated = usualCurrent(plan, state)
  out.usualA = learned ?? (rated === null ? null : { value: rated, sd: 0.15 * rated, fills: 0 })
  out.usualHereA = usualCurrentHere(plan, state)
  out.lightSince = run?.lightSince ?? null
  out.lightCount = run?.lightCount ?? 0
  out.heavySince = run?.heavySince ?? null
  out.heavyCount = run?.heavyCount ?? 0
  out.lightFromStart = run?.lightFromStart ?? false
  out.heavyTriesIn10Min = countSince(pump.heavyTries, at - 10 * MINUTE)
  out.startsIn10Min = countSince(pump.starts, at - 10 * MINUTE)
  out.lastEndAt = pump.lastEndAt
  out.lastEnd = pump.lastEnd
  out.lastEndA = pump.lastEndA
  out.restingUntil = pump.restingUntil
}

function countSince(times: readonly Ms[], from: Ms): number {
  let n = 0
  for (let i = times.length - 1; i >= 0 && (times[i] ?? 0) >= from; i -= 1) n += 1
  return n
}

function lookAtWater(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const { water } = state
  const out = facts.water
  const levelM = recentLevelM(plan, state, at)
  out.levelM = levelM
  out.levelSdM = levelM === null ? null : levelNoiseM(plan, state)
  lookAtMarks(plan, state, at, levelM)
  contactFacts(plan, state, at, facts)
  out.calledSince = water.calledSince
  out.atHighSince = water.atHighSince
  out.pastFullSince = water.pastFullSince
  out.drawLH = usualDrawLH(state) ?? (plan.site.water.dailyNeedL === null ? null : plan.site.water.dailyNeedL / 24)
  volumeFacts(plan, state, at, facts, levelM)
  out.usualFlowLMin = usual(state.usual.flowLMin)
  out.hoursLeft = out.volumeL !== null && out.drawLH !== null && out.drawLH > 0.5 ? out.volumeL / out.drawLH : null
  const run = state.pump.run !== null && state.pump.run.end === null ? state.pump.run : null
  const rise = run === null ? null : lookAtRise(plan, state, run, at)
  water.noRiseSince = rise?.since ?? null
  out.arrivedAt = run?.arrivedAt ?? null
  out.noRiseSince = water.noRiseSince
  out.expectedRiseL = rise?.expectedL ?? null
  out.seenRiseL = rise?.seenL ?? null
  out.riseSdL = rise?.sdL ?? null
  out.riseWindowS = rise?.windowS ?? 0
  out.arriving = rise?.arriving ?? null
  out.expectedFillS = expectedFill(plan, state)
  out.rateShare = run === null || out.expectedFillS === null ? null : rateShare(plan, state, run, at, out.expectedFillS)
}

function contactFacts(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const out = facts.water
  const { low, high, full } = state.water
  const fresh = (role: 'tank-probe-low' | 'tank-probe-high' | 'tank-probe-full', lastT: Ms): boolean => {
    const i = plan.index[role]
    return i !== undefined && at - lastT <= (plan.signals[i]?.staleMs ?? 0)
  }
  const lowFresh = low.seen && fresh('tank-probe-low', low.lastT)
  const highFresh = high.seen && fresh('tank-probe-high', high.lastT)
  const fullFresh = full.seen && fresh('tank-probe-full', full.lastT)
  out.lowWet = lowFresh ? low.wet : null
  out.lowSince = lowFresh ? low.since : null
  out.highWet = highFresh ? high.wet : null
  out.highSince = highFresh ? high.since : null
  out.fullWet = fullFresh ? full.wet : null
  out.fullSince = fullFresh ? full.since : null
}

function volumeFacts(plan: SitePlan, state: EngineState, at: Ms, facts: Facts, levelM: number | null): void {
  const out = facts.water
  const { tank } = plan.site
  out.reckoned = false
  out.volumeL = null
  out.volumeSdL = null
  if (tank === null) return
  if (plan.index['tank-level'] !== undefined) {
    if (levelM === null) return
    out.volumeL = volumeAt(tank.shape, levelM)
    out.volumeSdL = levelNoiseM(plan, state) * plan.areaLM
    return
  }
  reckonVolume(plan, state, at, facts)
}

/** With probes only: from the last mark passed, less the usual draw, plus what the pump has brought since. */
function reckonVolume(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const out = facts.water
  const { markT, markL } = state.water
  if (out.lowWet === null && out.highWet === null) return
  if (markT === null || plan.lowL === null || plan.highL === null) return
  const hours = (at - markT) / HOUR
  const drawn = (out.drawLH ?? 0) * hours
  const run = state.pump.run !== null && state.pump.run.end === null ? state.pump.run : null
  const flow = expectedFlowLMin(plan, state)
  const pumped =
    run !== null && flow !== null && state.water.noRiseSince === null
      ? ((at - Math.max(markT, run.start)) / MINUTE) * flow
      : 0
  let volume = Math.max(0, markL - drawn + pumped)
  if (out.lowWet === true) volume = Math.max(volume, plan.lowL)
  if (out.highWet === false) volume = Math.min(volume, plan.highL)
  if (out.lowWet === false) volume = Math.min(volume, plan.lowL)
  out.volumeL = volume
  out.volumeSdL = Math.max(0.05 * (plan.highL - plan.lowL), drawn)
  out.reckoned = true
}

/** How long the fill under way should take from where it began: band still to fill over the pump's own flow. */
function expectedFill(plan: SitePlan, state: EngineState): number | null {
  const { run } = state.pump
  const learned = usual(state.usual.durationS, 3)
  const flow = usual(state.usual.flowLMin, 3)
  if (run === null || run.end !== null || learned === null) return null
  const { tank } = plan.site
  if (plan.index['tank-level'] === undefined || tank === null || flow === null || run.startLevelM === null)
    return learned.value
  const begun = volumeAt(tank.shape, run.startLevelM)
  const toFill = volumeAt(tank.shape, fullLevelM(plan, state)) - begun
  return Math.max(learned.value, (toFill / flow.value) * 60)
}

function lookAtBattery(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const out = facts.battery
  const signal = plan.battery
  const stale = signal === null ? 0 : (plan.signals[signal]?.staleMs ?? 0)
  const { volts } = state.battery
  const newest = volts.t.at(-1)
  const fresh = newest !== undefined && at - newest <= stale
  out.voltageV = fresh ? (volts.v.at(-1) ?? null) : null
  out.recentV = recentVoltage(state, at, stale)
  lookAtVoltage(plan, state, at, out.recentV)
  out.loaded = isLoaded(state, at)
  out.restLowV = plan.limits?.rest ?? null
  out.loadedLowV = plan.limits?.loaded ?? null
  out.cutOffV = plan.limits?.cutOff ?? null
  out.lowSince = state.battery.lowSince
  out.lastLowAt = state.battery.lastLowAt
  out.rejoinV = plan.limits?.rejoin ?? null
  out.fallVH = fallVH(state, at)
  const v = out.recentV
  const near = plan.limits !== null && v !== null && !out.loaded && v < plan.limits.knee
  out.hoursToCutOff =
    near && plan.limits !== null && v !== null && out.fallVH !== null && out.fallVH > 0.004
      ? Math.max(0, (v - plan.limits.cutOff) / out.fallVH)
      : null
  out.lowest30MinV = newest === undefined ? null : leastBetween(volts, newest - 30 * MINUTE, newest)
  out.temperatureC = at - state.battery.temperatureT < HOUR ? state.battery.temperatureC : null
}

function longestOutage(state: EngineState, at: Ms): number {
  let longest = 0
  for (const outage of state.outages) if (at - outage.end <= 30 * DAY && outage.ms > longest) longest = outage.ms
  return longest
}
