/** What the answer rests on. */
import type { SizeBasis } from '../../model/sizing.js'
import { STRETCHES } from '../energy/shade.js'
import { volumeAt } from '../tank.js'
import { asMeasured } from './as-measured.js'
import { batteryRules } from './battery-rules.js'
import type { Measured } from './measured.js'
import { openTable, presentTable } from './tables.js'
import type { Needs, Setup, SizingInput } from './setup.js'

/** A need far from what was used is beyond what the pump's measured figures can tell. */
const SHARE_MAX = 10

export function needsOf(input: SizingInput, measured: Measured): Needs {
  const whole = input.days.filter((day) => day.covered > 0.8)
  const pumped = whole.flatMap((day) => (day.pumpedL === null ? [] : [day.pumpedL.value]))
  const used = whole.flatMap((day) => (day.usedL === null ? [] : [day.usedL.value]))
  const usedL = meanOf(used) ?? meanOf(pumped)
  const pumpedL = meanOf(pumped)
  const pumpWh = meanOf(measured.days.map((day) => day.pumpWh.reduce((sum, wh) => sum + wh, 0)))
  const whPerL = pumpWh === null || pumpedL === null || pumpedL < 1 ? null : pumpWh / pumpedL
  // Who uses more than was written down once needs what is used.
  const configured = input.site.water.dailyNeedL
  const needL = input.needL ?? (configured !== null && configured > (usedL ?? 0) ? configured : null)
  const basisL = pumpedL ?? usedL
  const asked = needL === null || basisL === null || basisL < 1 ? 1 : needL / basisL
  return { usedL, needL: needL ?? usedL, pumpShare: Math.min(SHARE_MAX, Math.max(0, asked)), whPerL }
}

export function basisOf(setup: Setup | null, years: number): SizeBasis {
  const measured = setup?.measured ?? null
  const cover = setup?.years.cover ?? []
  const months = (kind: string): number[] => cover.flatMap((one, month) => (one === kind ? [month + 1] : []))
  const battery = setup?.input.site.battery ?? null
  const rules = battery === null ? null : batteryRules(battery.chemistry)
  const days = measured?.days ?? []
  const pump = meanOf(days.map((day) => day.pumpWh.reduce((sum, wh) => sum + wh, 0)))
  const rest = meanOf(days.map((day) => day.loadWh.reduce((sum, wh) => sum + wh, 0)))
  return {
    from: days[0]?.at ?? measured?.first ?? null,
    to: days.at(-1)?.at ?? measured?.last ?? null,
    usableDays: days.length,
    heldBackDays: measured?.heldBack ?? 0,
    missingDays: measured?.missing ?? 0,
    measuredMonths: days.length === 0 ? [] : months('measured'),
    besideMonths: days.length === 0 ? [] : months('beside'),
    uncoveredMonths: days.length === 0 ? [] : months('none'),
    loadWhPerDay: pump === null || rest === null ? null : rest + pump * (setup?.needs.pumpShare ?? 1),
    pumpWhPerDay: pump === null ? null : pump * (setup?.needs.pumpShare ?? 1),
    usedLPerDay: setup?.needs.usedL ?? null,
    needLPerDay: setup?.needs.needL ?? null,
    loadFrom: measured?.loadFrom ?? 'none',
    performance: setup?.shade.performance ?? null,
    shade: setup === null ? null : sumOf(presentTable(setup.shade)) / Math.max(1e-9, sumOf(openTable(setup.shade))),
    shadeByHour: setup === null ? [] : shadeByHour(setup),
    soiled: setup?.shade.spells ?? [],
    sunOverLoad: setup === null ? null : (asMeasured(setup)?.ca ?? null),
    storedDays: setup === null ? null : (asMeasured(setup)?.cs ?? null),
    tankDays: setup === null ? null : tankDays(setup),
    chemistry: battery?.chemistry ?? null,
    volts: setup?.volts ?? null,
    depth: rules?.depth ?? null,
    agedShare: rules?.aged ?? null,
    years,
  }
}

/** Days that a full tank carries without any pumping. */
function tankDays({ input, needs }: Setup): number | null {
  const { tank } = input.site
  if (tank === null || needs.needL === null || needs.needL <= 0) return null
  return volumeAt(tank.shape, tank.highMarkM) / needs.needL
}

/** Transmission of each hour over the stretches in which it was seen, weighted by their clear sky. */
function shadeByHour({ shade }: Setup): SizeBasis['shadeByHour'] {
  return Array.from({ length: 24 }, (_, hourUtc) => {
    let sum = 0
    let weight = 0
    for (let stretch = 0; stretch < STRETCHES; stretch += 1) {
      const cell = shade.cells[stretch * 24 + hourUtc] ?? null
      if (cell === null || cell.source !== 'seen') continue
      const clear = shade.clear[stretch * 24 + hourUtc] ?? 0
      sum += clear * cell.transmission
      weight += clear
    }
    return { hourUtc, transmission: weight > 0.02 ? sum / weight : Number.NaN }
  }).filter((one) => !Number.isNaN(one.transmission))
}

function sumOf(table: Float64Array): number {
  return table.reduce((sum, value) => sum + value, 0)
}

function meanOf(values: readonly number[]): number | null {
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length
}
