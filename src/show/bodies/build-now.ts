/** Joins settings, facts and alarms into the body of `GET /api/now`. */
import { LEARNED_FILLS } from '../../infer/look.js'
import { numbersOf } from '../../judge/definition.js'
import type { Facts } from '../../model/facts.js'
import { ROLES, type RoleId } from '../../model/roles.js'
import type { SiteSettings } from '../../model/settings.js'
import { MINUTE, type Ms, SECOND } from '../../model/time.js'
import type { Person } from '../access/sessions.js'
import type { LatestSample, ShowSource } from '../source.js'
import { tankFigures } from '../tank-figures.js'
import { answer } from '../words/answer.js'
import { alarmBody } from './alarms.js'
import { iso, isoOrNull, numberOrNull } from './common.js'
import type { NowBody } from './now.js'
import { powerPart } from './power.js'

function tankPart({ tank }: SiteSettings): NowBody['tank'] {
  if (tank === null) return null
  const figures = tankFigures(tank)
  return {
    outline: tank.shape.kind,
    width_m: figures.widthM,
    height_m: figures.heightM,
    low_mark_m: tank.lowMarkM,
    high_mark_m: tank.highMarkM,
    full_m: tank.fullM,
    reserve_m: figures.reserveM,
    reserve_l: tank.reserveL,
    capacity_l: figures.capacityL,
  }
}

function waterPart({ water, loss }: Facts): NowBody['water'] {
  return {
    level_m: numberOrNull(water.levelM),
    level_sd_m: numberOrNull(water.levelSdM),
    volume_l: numberOrNull(water.volumeL),
    volume_sd_l: numberOrNull(water.volumeSdL),
    reckoned: water.reckoned,
    low_wet: water.lowWet,
    high_wet: water.highWet,
    full_wet: water.fullWet,
    called_since: isoOrNull(water.calledSince),
    arriving: water.arriving,
    draw_l_per_h: numberOrNull(water.drawLH),
    hours_left: numberOrNull(water.hoursLeft),
    hours_left_low: numberOrNull(loss.hoursLeftLow),
    hours_left_high: numberOrNull(loss.hoursLeftHigh),
    used_today_l: numberOrNull(loss.usedTodayL),
    used_yesterday_l: numberOrNull(loss.usedYesterdayL),
    usual_day_l: loss.usualDayL && { value: loss.usualDayL.valueL, sd: loss.usualDayL.sdL, days: loss.usualDayL.days },
    usual_now_l_per_h: numberOrNull(loss.usualNowLH),
    present_l_per_h: numberOrNull(loss.presentLH),
    quiet_from_h: loss.quietFromH,
    quiet_l_per_h: numberOrNull(loss.quietLH),
    turnover_days: numberOrNull(loss.turnoverDays),
    turnover_at_least: loss.turnoverAtLeast,
  }
}

function wellPart({ well }: Facts): NowBody['well'] {
  if (well.restM === null && well.levelM === null) return null
  return {
    level_m: numberOrNull(well.levelM),
    drawdown_m: numberOrNull(well.drawdownM),
    capacity_l_min_m: numberOrNull(well.capacityLMinM),
    usual_capacity_l_min_m: numberOrNull(well.usualCapacityLMinM),
    capacity_runs: well.capacityRuns,
    recovered: numberOrNull(well.recovered),
  }
}

function pumpPart({ pump, water }: Facts): NowBody['pump'] {
  return {
    known: pump.known,
    running: pump.running,
    since: isoOrNull(pump.since),
    ran_s: pump.ranS,
    current_a: numberOrNull(pump.currentA),
    usual_current_a: pump.usualA,
    usual_flow_l_min: water.usualFlowLMin,
    expected_fill_s: numberOrNull(water.expectedFillS),
    last_end_at: isoOrNull(pump.lastEndAt),
    last_end: pump.lastEnd,
    resting_until: isoOrNull(pump.restingUntil),
  }
}

function batteryPart({ battery }: Facts, site: SiteSettings): NowBody['battery'] {
  return {
    chemistry: site.battery?.chemistry ?? null,
    nominal_v: site.battery?.nominalVoltageV ?? null,
    capacity_ah: site.battery?.capacityAh ?? null,
    voltage_v: numberOrNull(battery.voltageV),
    loaded: battery.loaded,
    rest_low_v: numberOrNull(battery.restLowV),
    loaded_low_v: numberOrNull(battery.loadedLowV),
    cut_off_v: numberOrNull(battery.cutOffV),
    hours_to_cut_off: numberOrNull(battery.hoursToCutOff),
    temperature_c: numberOrNull(battery.temperatureC),
  }
}

/** A board is quiet where `board-silent` would call it so, by this site's own settings of that alarm. */
function boardsPart(site: SiteSettings, facts: Facts | null, now: Ms): NowBody['boards'] {
  const { intervals, at_least: leastS } = numbersOf('board-silent', site)
  return site.boards.map((board) => {
    const heard = facts?.boards.find((one) => one.id === board.id)?.lastHeard ?? null
    const quietMs = Math.max(intervals * board.expectEveryS, leastS) * SECOND
    return {
      id: board.id,
      last_heard: isoOrNull(heard),
      expect_every_s: board.expectEveryS,
      quiet: heard === null || now - heard > quietMs,
    }
  })
}

/** The newest value of a role while it is fresh enough to speak of now. */
function fresh(latest: readonly LatestSample[], role: RoleId, now: Ms): number | null {
  const found = latest.find((one) => one.role === role && one.sample !== null)?.sample
  return found === undefined || found === null || now - found.t > 30 * MINUTE ? null : numberOrNull(found.value)
}

function latestPart(latest: readonly LatestSample[]): NowBody['latest'] {
  return latest.map(({ key, role, board, sample }) => ({
    key,
    role,
    board,
    unit: ROLES[role].unit,
    at: sample === null ? null : iso(sample.t),
    value: sample === null ? null : numberOrNull(sample.value),
    failed: sample !== null && Number.isNaN(sample.value),
  }))
}

/** Builds the body for one site as `person` is to see it. */
export function buildNow(source: ShowSource, site: SiteSettings, person: Person, signedIn: boolean): NowBody {
  const now = source.now()
  const state = source.state(site.id)
  const alarms = source.activeAlarms(site.id)
  const { facts, modes } = state
  return {
    at: iso(now),
    site: { id: site.id, name: site.name === '' ? site.id : site.name, timezone: site.timezone, units: site.units },
    sites: source.sites().map((one) => ({ id: one.id, name: one.name === '' ? one.id : one.name })),
    you: { name: person.name, role: person.role, signed_in: signedIn },
    answer: answer(site, facts, modes, alarms, now),
    looked_at: facts === null ? null : iso(facts.at),
    last_heard: isoOrNull(facts?.lastHeard ?? null),
    learning: {
      learning: facts?.learning ?? true,
      complete_fills: facts?.completeFills ?? 0,
      needed_fills: LEARNED_FILLS,
    },
    tank: tankPart(site),
    water: facts === null ? null : waterPart(facts),
    pump: facts === null ? null : pumpPart(facts),
    well: facts === null ? null : wellPart(facts),
    battery: facts === null ? null : batteryPart(facts, site),
    power: facts === null ? null : powerPart(facts),
    sky: {
      air_c: numberOrNull(facts?.airC ?? null),
      humidity: fresh(state.latest, 'humidity', now),
      panel_v: fresh(state.latest, 'panel-voltage', now),
      panel_a: fresh(state.latest, 'panel-current', now),
    },
    occupied: facts?.occupied ?? null,
    lines: (facts?.lines ?? []).map((line) => ({
      name: line.name,
      temperature_c: numberOrNull(line.temperatureC),
      modelled: line.modelled,
      frozen_since: isoOrNull(line.frozenSince),
      hours_to_zero: numberOrNull(line.hoursToZero),
    })),
    boards: boardsPart(site, facts, now),
    suspects: (facts?.suspects ?? []).map((one) => ({ key: one.key, kind: one.kind, since: iso(one.since) })),
    latest: latestPart(state.latest),
    alarms: alarms.map(alarmBody),
    modes: {
      away: modes.away,
      winterized: modes.winterized,
      maintenance_until: isoOrNull(modes.maintenanceUntil),
    },
    ways: state.ways.map((one) => ({
      way: one.way,
      kind: one.kind,
      proved_at: isoOrNull(one.provedAt),
      error: one.error,
    })),
  }
}
