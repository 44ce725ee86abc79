import { expect, test } from 'vitest'
import { NO_EFFECTS } from '../../simulators/effects.js'
import { planOf, usualCurrentA } from '../../simulators/plan.js'
import { Pump, Well } from '../../simulators/well-and-pump.js'

/** Runs a pump for a while at a fixed voltage, with the well following. */
function pumped(site: 'juniper' | 'fern', voltageV: number, seconds = 3_600) {
  const plan = planOf(site)
  const well = new Well(plan, 1)
  const pump = new Pump(plan, 1)
  for (let second = 0; second < seconds; second++) {
    pump.second(second * 1_000, true, voltageV, well, NO_EFFECTS)
    well.second(pump.flowLMin, NO_EFFECTS)
  }
  return { pump, well, plan }
}

test.each([
  ['juniper', 25.2, 3, 4],
  ['fern', 12.4, 4.5, 4],
] as const)('the pump at %s draws and gives at %f V what its plate would say', (site, voltageV, currentA, flowLMin) => {
  const { pump } = pumped(site, voltageV)
  expect(Math.abs(pump.currentA / currentA - 1)).toBeLessThan(0.05)
  expect(Math.abs(pump.flowLMin / flowLMin - 1)).toBeLessThan(0.05)
  expect(Math.abs(usualCurrentA(planOf(site)) / currentA - 1)).toBeLessThan(0.03)
})

test('flow goes with the voltage and current does not, as with any displacement pump', () => {
  const low = pumped('juniper', 24).pump
  const high = pumped('juniper', 28).pump
  // (28 − I·R) / (24 − I·R) with 3 A in 1.35 Ω.
  expect(high.flowLMin / low.flowLMin).toBeCloseTo((28 - 4.05) / (24 - 4.05), 1)
  expect(Math.abs(high.currentA / low.currentA - 1)).toBeLessThan(0.04)
})

test('current goes up as the well is drawn down, about in line with the lift', () => {
  const { well, plan } = pumped('juniper', 25.2, 1)
  const pump = new Pump(plan, 1)
  const at = (waterM: number) => {
    well.waterM = waterM
    let sum = 0
    for (let second = 0; second < 600; second++) pump.second(second * 1_000, true, 25.2, well, NO_EFFECTS)
    for (let second = 600; second < 1_200; second++) {
      pump.second(second * 1_000, true, 25.2, well, NO_EFFECTS)
      sum += pump.currentA
    }
    return sum / 600
  }
  expect(at(2) - at(12)).toBeCloseTo(10 * plan.pump.ampsPerM, 1)
})

test('the bore settles where inflow equals what is pumped, and comes back when the pump rests', () => {
  const { pump, well, plan } = pumped('juniper', 25.2, 6 * 3_600)
  expect(plan.well.staticM - well.waterM).toBeCloseTo(pump.flowLMin / plan.well.inflowLMinPerM, 1)
  for (let second = 0; second < 3 * 3_600; second++) well.second(0, NO_EFFECTS)
  expect(plan.well.staticM - well.waterM).toBeLessThan(0.05)
})

test('the first instant draws several times the running current, as far as the winding allows', () => {
  const { pump, plan } = pumped('fern', 12.4, 1)
  expect(pump.inrushA / usualCurrentA(plan)).toBeGreaterThan(2)
  expect(pump.inrushA / usualCurrentA(plan)).toBeLessThanOrEqual(6)
})
