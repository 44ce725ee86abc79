/** The hourly balance at the simulated site against what truly was; the well by its own level. */
import { describe, expect, it } from 'vitest'
import { planOf } from '../../simulators/plan.js'
import { simulate } from '../../simulators/simulate.js'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import type { Arrival } from '../../src/model/sample.js'
import type { SiteSettings } from '../../src/model/settings.js'
import { HOUR } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'
import { settingsOf } from '../scenario/detection/run-case.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
const START = Date.UTC(2026, 9, 5, 7)
const DAYS = 5

/** Juniper with a level sensor in its well. */
function withWell(): SiteSettings {
  const site = settingsOf('juniper')
  const boards = site.boards.map((board) => {
    const like = board.signals.find((signal) => signal.role === 'battery-voltage')
    if (like === undefined) return board
    const well = { ...like, key: 'well-level', role: 'well-level' as const, name: 'well-level' }
    return { ...board, signals: [...board.signals, well] }
  })
  return { ...site, boards }
}

async function lived() {
  const site = withWell()
  const store = openStore({ file: ':memory:', now: 0 })
  const line = new Line({ sites: [site], store, log: LOG, judging: false, link: () => null })
  const { messages, truth } = simulate({ site: 'juniper', seed: 5, startMs: START, days: DAYS, wellLevel: true })
  const arrivals = function* (): Generator<Arrival> {
    for (const { at, topic, payload } of messages) yield { at, topic, payload: Buffer.from(payload), retain: false }
  }
  await drive(line, arrivals())
  const hours = store.energyHours.list('juniper', 0, Number.MAX_SAFE_INTEGER)
  const days = store.days.list('juniper', '0000', '9999')
  const facts = line.sites[0]?.facts ?? null
  store.close()
  return { hours, days, truth, facts }
}

const { hours, days, truth, facts } = await lived()

describe('the hourly balance', () => {
  it('has every whole hour once, in order', () => {
    expect(hours.length).toBeGreaterThanOrEqual(24 * DAYS - 2)
    hours.forEach((hour, i) => {
      expect(hour.at % HOUR).toBe(0)
      if (i > 0) expect(hour.at - (hours[i - 1]?.at ?? 0)).toBe(HOUR)
    })
  })

  it('sums to the true harvest within 2 % and to the pump’s energy of the day within 3 Wh', () => {
    for (const day of truth.days.slice(1, -1)) {
      const own = hours.filter((hour) => hour.at >= day.start && hour.at < day.end)
      const sum = (of: (hour: (typeof hours)[number]) => number | null): number =>
        own.reduce((all, hour) => all + (of(hour) ?? 0), 0)
      expect(own).toHaveLength(24)
      expect(Math.abs(sum((hour) => hour.harvestWh) / day.harvestWh - 1)).toBeLessThan(0.02)
      const pump = days.find((one) => one.date === day.date)?.pumpWh?.value ?? Number.NaN
      expect(Math.abs(sum((hour) => hour.pumpWh) - pump)).toBeLessThan(3)
    }
  })

  it('sees that the array was held back once the battery was full, and never by night', () => {
    expect(hours.some((hour) => (hour.heldShare ?? 0) > 0.9)).toBe(true)
    expect(hours.every((hour) => hour.heldShare === null || (hour.clearWh ?? 0) > 0)).toBe(true)
    // What was free is never more than all that was given.
    for (const { freeWh, harvestWh } of hours) if (harvestWh !== null) expect(freeWh ?? 0).toBeLessThan(harvestWh + 1)
  })

  it('finds the standing and evening loads of the house by what is left', () => {
    const { standingW, eveningW } = planOf('juniper').loads
    const load = (utc: number) =>
      hours.filter((hour) => Math.floor(hour.at / HOUR) % 24 === utc).map((hour) => hour.loadWh ?? 0)
    // 10:00 UTC is deep in the night there, 03:00 UTC the evening.
    for (const wh of load(10)) expect(Math.abs(wh - standingW - 0.08 * eveningW)).toBeLessThan(3)
    for (const wh of load(3)) expect(Math.abs(wh - standingW - eveningW)).toBeLessThan(5)
  })

  it('learns what the converter takes, and tells the day in the facts', () => {
    expect(facts?.balance.converterShare ?? 0).toBeGreaterThan(0.92)
    expect(facts?.balance.converterShare ?? 1).toBeLessThan(0.99)
    expect(facts?.balance.harvestWh ?? 0).toBeGreaterThan(300)
    expect(facts?.balance.clearWh ?? 0).toBeGreaterThan(facts?.balance.harvestWh ?? 0)
  })
})

describe('a well with a level sensor', () => {
  it('has the specific capacity of its inflow and what stood in the bore, at equal run times', () => {
    const well = facts?.well
    expect(well?.capacityRuns ?? 0).toBeGreaterThanOrEqual(3)
    // After ten minutes a part still comes out of the bore: more than the inflow of 2 l/min for each metre.
    const { inflowLMinPerM, storedLPerM } = planOf('juniper').well
    const share = 1 - Math.exp((-10 * inflowLMinPerM) / storedLPerM)
    const expected = inflowLMinPerM / share
    expect(Math.abs((well?.usualCapacityLMinM ?? 0) / expected - 1)).toBeLessThan(0.08)
  })

  it('recovers by its own time constant in ten minutes', () => {
    const { inflowLMinPerM, storedLPerM } = planOf('juniper').well
    const expected = 1 - Math.exp((-10 * inflowLMinPerM) / storedLPerM)
    expect(Math.abs((facts?.well.usualRecovered ?? 0) - expected)).toBeLessThan(0.08)
  })
})
