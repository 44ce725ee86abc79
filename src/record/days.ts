import type { Day } from '../model/fill.js'
import { figure, known } from './rows.js'
import type { Sql } from './sql.js'

export type Days = {
  /** Stores a day; one with the same date is replaced. */
  put(site: string, day: Day): void
  /** Days from `fromDate` to `toDate`, both included (YYYY-MM-DD), ascending. */
  list(site: string, fromDate: string, toDate: string): readonly Day[]
  /** Drops the day `date` and all later ones and returns how many. */
  dropFrom(site: string, date: string): number
}

type Row = {
  date: string
  start: number
  end: number
  pumped_l: number | null
  pumped_sd_l: number | null
  used_l: number | null
  used_sd_l: number | null
  fills: number
  run_s: number
  pump_wh: number | null
  pump_sd_wh: number | null
  wh_per_l: number | null
  wh_per_l_sd: number | null
  battery_min_v: number | null
  battery_max_v: number | null
  harvest_wh: number | null
  air_min_c: number | null
  air_max_c: number | null
  covered: number
}

function dayOf(row: Row): Day {
  return {
    date: row.date,
    start: row.start,
    end: row.end,
    pumpedL: figure(row.pumped_l, row.pumped_sd_l),
    usedL: figure(row.used_l, row.used_sd_l),
    fills: row.fills,
    runS: row.run_s,
    pumpWh: figure(row.pump_wh, row.pump_sd_wh),
    whPerL: figure(row.wh_per_l, row.wh_per_l_sd),
    batteryMinV: row.battery_min_v,
    batteryMaxV: row.battery_max_v,
    harvestWh: row.harvest_wh,
    airMinC: row.air_min_c,
    airMaxC: row.air_max_c,
    covered: row.covered,
  }
}

function valuesOf(site: string, day: Day): (string | number | null)[] {
  return [
    site,
    day.date,
    day.start,
    day.end,
    known(day.pumpedL?.value),
    known(day.pumpedL?.sd),
    known(day.usedL?.value),
    known(day.usedL?.sd),
    day.fills,
    day.runS,
    known(day.pumpWh?.value),
    known(day.pumpWh?.sd),
    known(day.whPerL?.value),
    known(day.whPerL?.sd),
    known(day.batteryMinV),
    known(day.batteryMaxV),
    known(day.harvestWh),
    known(day.airMinC),
    known(day.airMaxC),
    day.covered,
  ]
}

export function createDays(sql: Sql): Days {
  const put = sql.prepare<(string | number | null)[]>(
    'write a day',
    `INSERT OR REPLACE INTO day (site, date, start, end, pumped_l, pumped_sd_l, used_l, used_sd_l, fills, run_s,
       pump_wh, pump_sd_wh, wh_per_l, wh_per_l_sd, battery_min_v, battery_max_v, harvest_wh, air_min_c, air_max_c,
       covered)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  )
  const list = sql.prepare<[string, string, string], Row>(
    'read days',
    'SELECT * FROM day WHERE site = ? AND date BETWEEN ? AND ? ORDER BY date',
  )
  const drop = sql.prepare<[string, string]>('drop days', 'DELETE FROM day WHERE site = ? AND date >= ?')
  return {
    put: (site, day) => {
      put.run(...valuesOf(site, day))
    },
    list: (site, fromDate, toDate) => list.all(site, fromDate, toDate).map(dayOf),
    dropFrom: (site, date) => drop.run(site, date),
  }
}
