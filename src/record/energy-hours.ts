import type { EnergyHour } from '../model/facts-balance.js'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { known } from './rows.js'
import type { Sql } from './sql.js'

export type EnergyHours = {
  /** Stores an hour; one with the same start is replaced. */
  put(site: string, hour: EnergyHour): void
  /** Hours with from ≤ start < to, ascending; the newest of them where there are more than a question may bring. */
  list(site: string, from: Ms, to: Ms): readonly EnergyHour[]
  /** Drops every hour that starts at `from` or later and returns how many. */
  dropFrom(site: string, from: Ms): number
}

type Row = {
  at: number
  covered: number
  harvest_wh: number | null
  clear_wh: number | null
  free_wh: number | null
  free_clear_wh: number | null
  held_share: number | null
  pump_wh: number | null
  load_wh: number | null
  charge_wh: number | null
  discharge_wh: number | null
  battery_c: number | null
  air_c: number | null
}

function hourOf(row: Row): EnergyHour {
  return {
    at: row.at,
    covered: row.covered,
    harvestWh: row.harvest_wh,
    clearWh: row.clear_wh,
    freeWh: row.free_wh,
    freeClearWh: row.free_clear_wh,
    heldShare: row.held_share,
    pumpWh: row.pump_wh,
    loadWh: row.load_wh,
    chargeWh: row.charge_wh,
    dischargeWh: row.discharge_wh,
    batteryC: row.battery_c,
    airC: row.air_c,
  }
}

export function createEnergyHours(sql: Sql): EnergyHours {
  const put = sql.prepare<(string | number | null)[]>(
    'write an hour of energy',
    `INSERT OR REPLACE INTO energy_hour (site, at, covered, harvest_wh, clear_wh, free_wh, free_clear_wh, held_share,
       pump_wh, load_wh, charge_wh, discharge_wh, battery_c, air_c)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  )
  const list = sql.prepare<[string, number, number, number], Row>(
    'read hours of energy',
    'SELECT * FROM energy_hour WHERE site = ? AND at >= ? AND at < ? ORDER BY at DESC LIMIT ?',
  )
  const drop = sql.prepare<[string, number]>(
    'drop hours of energy',
    'DELETE FROM energy_hour WHERE site = ? AND at >= ?',
  )
  return {
    put: (site, hour) => {
      const { harvestWh, clearWh, freeWh, freeClearWh, heldShare, pumpWh, loadWh } = hour
      const figures = [harvestWh, clearWh, freeWh, freeClearWh, heldShare, pumpWh, loadWh, hour.chargeWh]
      put.run(
        site,
        hour.at,
        hour.covered,
        ...figures.map(known),
        known(hour.dischargeWh),
        known(hour.batteryC),
        known(hour.airC),
      )
    },
    list: (site, from, to) => list.all(site, from, to, LIMITS.listRowsMax).map(hourOf).reverse(),
    dropFrom: (site, from) => drop.run(site, from),
  }
}
