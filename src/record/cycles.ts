import { END_REASONS, type FillCycle } from '../model/fill.js'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { figure, known } from './rows.js'
import type { Sql } from './sql.js'

export type Cycles = {
  /** Stores a cycle; one with the same start is replaced. */
  put(site: string, cycle: FillCycle): void
  /** Cycles that start in from ≤ start < to, ascending; of more than `limit` the newest. */
  list(site: string, from: Ms, to: Ms, limit?: number): readonly FillCycle[]
  /** Drops cycles that end after `endAfter` and returns how many. */
  dropAfter(site: string, endAfter: Ms): number
}

type Row = {
  start: number
  end: number
  duration_s: number
  duration_sd_s: number
  volume_l: number | null
  volume_sd_l: number | null
  energy_wh: number | null
  energy_sd_wh: number | null
  flow_l_min: number | null
  flow_sd_l_min: number | null
  wh_per_l: number | null
  wh_per_l_sd: number | null
  current_mean_a: number | null
  voltage_mean_v: number | null
  voltage_min_v: number | null
  level_start_m: number | null
  level_end_m: number | null
  first_rise_s: number | null
  end_reason: string
  complete: number
}

function cycleOf(row: Row): FillCycle {
  return {
    start: row.start,
    end: row.end,
    durationS: row.duration_s,
    durationSdS: row.duration_sd_s,
    volumeL: figure(row.volume_l, row.volume_sd_l),
    energyWh: figure(row.energy_wh, row.energy_sd_wh),
    flowLMin: figure(row.flow_l_min, row.flow_sd_l_min),
    whPerL: figure(row.wh_per_l, row.wh_per_l_sd),
    currentMeanA: row.current_mean_a,
    voltageMeanV: row.voltage_mean_v,
    voltageMinV: row.voltage_min_v,
    levelStartM: row.level_start_m,
    levelEndM: row.level_end_m,
    firstRiseS: row.first_rise_s,
    endReason: END_REASONS.find((reason) => reason === row.end_reason) ?? 'unknown',
    complete: row.complete !== 0,
  }
}

function valuesOf(site: string, cycle: FillCycle): (string | number | null)[] {
  return [
    site,
    cycle.start,
    cycle.end,
    cycle.durationS,
    cycle.durationSdS,
    known(cycle.volumeL?.value),
    known(cycle.volumeL?.sd),
    known(cycle.energyWh?.value),
    known(cycle.energyWh?.sd),
    known(cycle.flowLMin?.value),
    known(cycle.flowLMin?.sd),
    known(cycle.whPerL?.value),
    known(cycle.whPerL?.sd),
    known(cycle.currentMeanA),
    known(cycle.voltageMeanV),
    known(cycle.voltageMinV),
    known(cycle.levelStartM),
    known(cycle.levelEndM),
    known(cycle.firstRiseS),
    cycle.endReason,
    Number(cycle.complete),
  ]
}

export function createCycles(sql: Sql): Cycles {
  const put = sql.prepare<(string | number | null)[]>(
    'write a fill cycle',
    `INSERT OR REPLACE INTO cycle (site, start, end, duration_s, duration_sd_s, volume_l, volume_sd_l, energy_wh,
       energy_sd_wh, flow_l_min, flow_sd_l_min, wh_per_l, wh_per_l_sd, current_mean_a, voltage_mean_v, voltage_min_v,
       level_start_m, level_end_m, first_rise_s, end_reason, complete)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  )
  const list = sql.prepare<[string, number, number, number], Row>(
    'read fill cycles',
    'SELECT * FROM cycle WHERE site = ? AND start >= ? AND start < ? ORDER BY start DESC LIMIT ?',
  )
  const drop = sql.prepare<[string, number]>('drop fill cycles', 'DELETE FROM cycle WHERE site = ? AND end > ?')
  return {
    put: (site, cycle) => {
      put.run(...valuesOf(site, cycle))
    },
    list: (site, from, to, limit = LIMITS.listRowsMax) =>
      list.all(site, from, to, Math.min(limit, LIMITS.listRowsMax)).map(cycleOf).reverse(),
    dropAfter: (site, endAfter) => drop.run(site, endAfter),
  }
}
