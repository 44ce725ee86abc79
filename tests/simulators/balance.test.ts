import { expect, test } from 'vitest'
import { parseFault } from '../../simulators/fault.js'
import { ordinaryLife } from '../../simulators/ordinary.js'
import { SITE_IDS } from '../../simulators/plan.js'
import type { SimulateOptions } from '../../simulators/simulate.js'
import { START, truthOf } from './watch.js'

const lives: readonly [string, Partial<SimulateOptions>][] = [
  ['an ordinary week', ordinaryLife(11, 14)],
  ['a leak', { faults: [parseFault('leak:strong@1d', START)] }],
  ['an overflow', { faults: [parseFault('stuck-on:strong@1d', START)] }],
  ['an emptied tank', { faults: [parseFault('tank-low:strong@1d+4h', START)] }],
  ['failing cells', { faults: [parseFault('battery-low:strong@1d', START)] }],
]

for (const site of SITE_IDS) {
  for (const [words, options] of lives) {
    test(`at ${site}, ${words} leaves no litre and no ampere-hour unaccounted for`, () => {
      const truth = truthOf({ site, days: 6, ...options })
      const { balance } = truth
      const tank =
        balance.tankStartL + balance.pumpedL - (balance.tankEndL + balance.usedL + balance.leakedL + balance.overflowL)
      expect(Math.abs(tank)).toBeLessThan(1e-6)
      const battery =
        balance.storedStartAh + balance.inAh * balance.kept - (balance.storedEndAh + balance.outAh + balance.lostAh)
      expect(Math.abs(battery)).toBeLessThan(1e-6)
      expect(balance.usedL).toBeGreaterThan(100)
      expect(balance.inAh).toBeGreaterThan(1)
    })
  }

  test(`at ${site}, days and runs add up to the same water and energy`, () => {
    const truth = truthOf({ site, days: 6, people: 4 })
    const sum = (numbers: number[]) => numbers.reduce((total, n) => total + n, 0)
    const runs = truth.runs
    expect(runs.length).toBeGreaterThan(6)
    expect(sum(truth.days.map((day) => day.pumpedL))).toBeCloseTo(sum(runs.map((run) => run.deliveredL)), 6)
    expect(sum(truth.days.map((day) => day.usedL))).toBeCloseTo(truth.balance.usedL, 6)
    expect(sum(truth.days.map((day) => day.runS))).toBe(sum(runs.map((run) => (run.end - run.start) / 1_000)))
    // The first fifth of a second of each start is in the runs' energy alone.
    const inrushWh = 0.1 * runs.length
    expect(
      Math.abs(sum(truth.days.map((day) => day.pumpWh)) - sum(runs.map((run) => run.energyBatteryWh))),
    ).toBeLessThan(inrushWh)
    for (const run of runs) {
      // What came in, less what went out, is the rise of the water.
      const area = site === 'juniper' ? (Math.PI * 1.24 ** 2) / 4 : 1.2
      expect((run.levelEndM - run.levelStartM) * area * 1_000).toBeCloseTo(run.deliveredL - run.drawnL, 0)
      expect(run.energyPumpWh).toBeLessThan(run.energyBatteryWh)
    }
  })
}
