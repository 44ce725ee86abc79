import { describe, expect, test } from 'vitest'
import { between, days, median, START, watch } from './watch.js'

const juniper = watch({ site: 'juniper', days: 30 })
const fern = watch({ site: 'fern', days: 30 })
const places = { juniper, fern }

/** Least energy to lift water, Wh for each litre and metre: ρ·g·H with g by definition (ISO 80000-3), water 1,000 kg/m³. */
const LIFT_WH_PER_L_M = 9.80665 / 3_600

describe.each([
  ['juniper', 40, [2.9, 3.1], [3.8, 4.7]],
  ['fern', 30, [4.4, 4.6], [3.7, 4.8]],
] as const)('a healthy month at %s', (site, liftM, [lowA, highA], [lowFlow, highFlow]) => {
  const { truth, signals, unreadable } = places[site]

  test('has a fill of the band about once a day, each about an hour, each ended at the high mark', () => {
    expect(truth.runs.length).toBeGreaterThanOrEqual(20)
    expect(truth.runs.length).toBeLessThanOrEqual(40)
    const whole = truth.runs.filter((run) => run.endReason === 'full')
    expect(whole.length).toBeGreaterThanOrEqual(truth.runs.length - 1)
    for (const run of whole) {
      const minutes = (run.end - run.start) / 60_000
      expect(minutes).toBeGreaterThan(40)
      expect(minutes).toBeLessThan(110)
      const flowing = (run.end - (run.firstWaterAt ?? run.end)) / 60_000
      expect(run.deliveredL / flowing).toBeGreaterThan(lowFlow)
      expect(run.deliveredL / flowing).toBeLessThan(highFlow)
      expect(run.currentMeanA).toBeGreaterThan(lowA)
      expect(run.currentMeanA).toBeLessThan(highA)
    }
  })

  test('takes energy between a fifth and a half efficient, never less than lifting takes', () => {
    for (const run of truth.runs) {
      const share = (LIFT_WH_PER_L_M * liftM) / (run.energyBatteryWh / run.deliveredL)
      expect(share).toBeGreaterThan(0.2)
      expect(share).toBeLessThan(0.5)
    }
  })

  test('uses what two people use', () => {
    // 100 to 250 l a day for two (common practice).
    const daily = truth.balance.usedL / 30
    expect(daily).toBeGreaterThan(100)
    expect(daily).toBeLessThan(260)
  })

  test('waits for the drop pipe to fill before the first water arrives', () => {
    for (const run of truth.runs) {
      expect(run.firstWaterAt).not.toBeNull()
      const lagS = ((run.firstWaterAt ?? 0) - run.start) / 1_000
      expect(lagS).toBeGreaterThan(5)
      expect(lagS).toBeLessThan(90)
    }
  })

  test('keeps the battery well, above every limit of its chemistry', () => {
    const nominal = site === 'juniper' ? 2 : 1
    for (const day of truth.days) {
      expect(day.batteryMinV).toBeGreaterThan(12.3 * nominal)
      expect(day.batteryMaxV).toBeLessThan(14.7 * nominal)
    }
    expect(truth.marks.map((mark) => mark.what).filter((what) => what !== 'called')).toEqual([])
  })

  test('each board sends a message each ten seconds, every one readable', () => {
    expect(unreadable).toEqual([])
    expect(places[site].messages).toHaveLength(30 * 8_640 * (site === 'juniper' ? 3 : 2))
    expect(signals.get('battery-voltage')?.length).toBe(30 * 8_640)
    expect(signals.get('line-temperature')?.length).toBe(30 * 1_440)
  })

  test('shows the pump to the sensors as it ran', () => {
    for (const run of truth.runs) {
      const seen = median(between(places[site], 'pump-current', run.start + 60_000, run.end))
      expect(Math.abs(seen - run.currentMeanA)).toBeLessThan(0.2)
    }
    const first = truth.runs[0]
    expect(Math.abs(median(between(places[site], 'pump-current', START, first?.start ?? START)))).toBeLessThan(0.15)
  })
})

test('the voltage sags when the pump starts and comes back when it stops', () => {
  for (const run of juniper.truth.runs) {
    const before = median(between(juniper, 'battery-voltage', run.start - 30_000, run.start))
    const after = median(between(juniper, 'battery-voltage', run.start + 1_000, run.start + 31_000))
    const panelV = median(between(juniper, 'panel-voltage', run.start - 30_000, run.start))
    // By day a held-back panel may carry the pump and the voltage stays.
    if (panelV < 5) expect(before - after).toBeGreaterThan(0.05)
  }
})

test('a full battery turns harvest away: the panel voltage rises and its current falls', () => {
  const full = (juniper.signals.get('battery-voltage') ?? []).filter(({ value }) => value > 28.3).map(({ t }) => t)
  expect(full.length).toBeGreaterThan(100)
  const panelV = new Map((juniper.signals.get('panel-voltage') ?? []).map(({ t, value }) => [t, value]))
  expect(Math.max(...full.map((t) => panelV.get(t) ?? 0))).toBeGreaterThan(40)
})

test('nights are colder than days, and the line follows the air with a smaller swing', () => {
  for (const day of juniper.truth.days.slice(1, -1)) expect(day.airMaxC - day.airMinC).toBeGreaterThan(4)
  const air = between(juniper, 'air-temperature', START, START + days(30))
  const line = between(juniper, 'line-temperature', START, START + days(30))
  const spread = (values: number[]) => {
    const mean = values.reduce((sum, v) => sum + v, 0) / values.length
    return Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / values.length)
  }
  expect(spread(line)).toBeLessThan(spread(air))
})

test('an ordinary level sensor errs by millimetres', () => {
  for (const run of juniper.truth.runs.slice(0, 5)) {
    const seen = median(between(juniper, 'tank-level', run.start - 30_000, run.start))
    expect(Math.abs(seen - run.levelStartM)).toBeLessThan(0.02)
  }
})
