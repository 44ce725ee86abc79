/** What another kind of change would do to what stands there now. */
import type { SizeChange } from '../../model/sizing.js'
import { batteryRules } from './battery-rules.js'
import type { Supply } from './simulate.js'
import { type Bend, type Setup, supplyOf } from './setup.js'
import { openTable, presentTable, pumpAtNoon, tiltedTable } from './tables.js'

export type ChangeRun = Pick<SizeChange, 'change' | 'words'> &
  Bend & {
    readonly supply: Supply
  }

/** Wire to water that a good small pump for this lift reaches [common practice]. */
const GOOD_EFFICIENCY = 0.5
const GRAVITY_WH_PER_L_M = 9.80665 / 3600
/** Less than this is not worth a ladder. */
const SHADE_LEAST = 0.05

export function changesFor(setup: Setup): readonly ChangeRun[] {
  const { input, shade, array } = setup
  const ah = input.site.battery?.capacityAh ?? null
  if (ah === null) return []
  const supply = supplyOf(setup, array.ratedW, ah)
  const present = presentTable(shade)
  const open = openTable(shade)
  const runs: ChangeRun[] = []
  if (sumOf(present) < (1 - SHADE_LEAST) * sumOf(open)) {
    runs.push({
      change: 'clear-the-sun',
      words: 'move the array out of the shade, or take the shade away',
      table: open,
      supply,
    })
  }
  const steep = Math.min(75, Math.abs(array.place.latitudeDeg) + 15)
  if (steep - array.plane.tiltDeg >= 8) {
    const table = tiltedTable(shade, array, steep, input.hours.at(-1)?.at ?? 0)
    runs.push({
      change: 'steeper',
      words: `tilt the array to ${Math.round(steep)}° for the winter`,
      table,
      supply,
    })
  }
  runs.push({
    change: 'pump-at-noon',
    words: 'pump about noon only, which a band wide enough for a day’s water in the tank allows',
    table: present,
    supply,
    pump: pumpAtNoon,
  })
  const saved = betterPumpShare(setup)
  if (saved !== null) {
    runs.push({
      change: 'better-pump',
      words: `a pump that turns ${Math.round(100 * GOOD_EFFICIENCY)} % of its power into lifted water`,
      table: present,
      supply,
      pump: (pumpWh) => pumpWh.map((wh) => wh * saved),
    })
  }
  if (batteryRules(input.site.battery?.chemistry ?? 'flooded').noChargeBelowC !== null) {
    runs.push({
      change: 'warm-battery',
      words: 'keep the battery above freezing',
      table: present,
      supply,
      batteryC: (celsius) => Math.max(3, celsius),
    })
  }
  return runs
}

/** What is left of the pump's energy with a good pump; null: not known, or it is one. */
function betterPumpShare(setup: Setup): number | null {
  const { liftM } = setup.input.site.well
  const { whPerL } = setup.needs
  if (liftM === null || whPerL === null || whPerL <= 0) return null
  const share = (GRAVITY_WH_PER_L_M * liftM) / GOOD_EFFICIENCY / whPerL
  return share < 0.95 && share > 0.2 ? share : null
}

function sumOf(table: Float64Array): number {
  return table.reduce((sum, value) => sum + value, 0)
}
