/** Frost, cold batteries, and what temperature does to a sensor. */
import { expect, test } from 'vitest'
import { parseFault, type Severity } from '../../simulators/fault.js'
import { Line } from '../../simulators/line.js'
import { planOf, SITE_IDS, type SiteId } from '../../simulators/plan.js'
import { between, days, START, truthOf, watch } from './watch.js'

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}

function frost(site: SiteId, severity: Severity, length: number) {
  return truthOf({ site, days: length, faults: [parseFault(`line-freezing:${severity}@6h`, START)] })
}

test.each(SITE_IDS.flatMap((site) => [[site, 'middle'] as const, [site, 'strong'] as const]))(
  'at %s, %s: a cold night takes the line to 0 °C',
  (site, severity) => {
    const truth = frost(site, severity, 3)
    const at = truth.marks.find(({ what }) => what === 'line-at-zero')
    expect(at).toBeDefined()
    expect(Math.min(...truth.days.map((day) => day.airMinC))).toBeLessThan(-3)
  },
)

test('a mild cold night brings the line close to 0 °C at least', () => {
  for (const site of SITE_IDS) {
    const truth = frost(site, 'mild', 3)
    expect(Math.min(...truth.days.map((day) => day.lineMinC))).toBeLessThan(0.5)
  }
})

test('lithium is not charged below 0 °C: in deep frost the panel gives only what the loads take', () => {
  const watched = watch({ site: 'juniper', days: 4, faults: [parseFault('line-freezing:strong@6h', START)] })
  const cold = (watched.signals.get('battery-temperature') ?? []).filter(({ value }) => value < -1).map(({ t }) => t)
  expect(cold.length).toBeGreaterThan(100)
  const current = new Map((watched.signals.get('battery-current') ?? []).map(({ t, value }) => [t, value]))
  expect(Math.max(...cold.map((t) => current.get(t) ?? -1))).toBeLessThan(0.15)
})

test('where that protection fails, amperes go into a frozen battery', () => {
  const watched = watch({ site: 'juniper', days: 4, faults: [parseFault('cold-charge:mild@6h', START)] })
  const cold = (watched.signals.get('battery-temperature') ?? []).filter(({ value }) => value < -1).map(({ t }) => t)
  const current = new Map((watched.signals.get('battery-current') ?? []).map(({ t, value }) => [t, value]))
  expect(Math.max(...cold.map((t) => current.get(t) ?? -1))).toBeGreaterThan(2)
})

test('an ultrasonic level follows the air though no water moves', () => {
  const watched = watch({ site: 'juniper', days: 2, people: 0, levelSensor: 'ultrasonic' })
  expect(watched.truth.runs).toHaveLength(0)
  // Means of 10 min, without the readings' own scatter of ± 1 cm.
  const readings = between(watched, 'tank-level', START, START + days(2))
  const levels = Array.from({ length: Math.floor(readings.length / 60) }, (_, k) =>
    mean(readings.slice(60 * k, 60 * k + 60)),
  )
  const swing = Math.max(...levels) - Math.min(...levels)
  // 0.177 % for each °C of an air gap of about 0.9 m: 1.5 cm or more over a day of 15 °C (trade source).
  expect(swing).toBeGreaterThan(0.015)
  expect(swing).toBeLessThan(0.06)
})

test('a line in steady frost stays at 0 °C until it is frozen through, then cools on', () => {
  const line = new Line(planOf('juniper'), 4)
  const waterC: number[] = []
  for (let minute = 0; minute < 60 * 60; minute++) {
    line.advance(60, -10, false)
    waterC.push(line.waterC)
  }
  const heldH = waterC.filter((value) => value === 0).length / 60
  // 40 °C of latent cooling at 10 °C below, with a lag of 3 h: 40 / 10 × 3 = 12 h.
  expect(heldH).toBeGreaterThan(11.5)
  expect(heldH).toBeLessThan(12.5)
  expect(waterC.at(-1)).toBeLessThan(-9)
})

test('what froze melts again, and the line comes back to the air', () => {
  const line = new Line(planOf('juniper'), 2)
  for (let minute = 0; minute < 600; minute++) line.advance(60, -10, false)
  expect(line.ice).toBeGreaterThan(0.1)
  for (let minute = 0; minute < 60 * 60; minute++) line.advance(60, 12, false)
  expect(line.ice).toBe(0)
  expect(line.waterC).toBeGreaterThan(11)
})
