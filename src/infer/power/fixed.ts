/** What follows for the battery from the configuration alone, per site. Voltages are those of the battery as a whole. */
import type { Chemistry } from '../../model/settings.js'
import { type ArrayPlace, arrayPlaceOf } from '../energy/clear.js'
import type { SitePlan } from '../plan.js'
import { signalsOf } from '../plan.js'
import { ROLES } from '../../model/roles.js'

/**
 * Per 12 V of nominal voltage [common practice]: from `absorbV` up the charger holds the voltage; between `floatV` and that
 * a full battery floats, and no discharging one stands; `restFullV`: a lithium battery that rests there is full.
 */
const CHARGING: Record<Chemistry, { absorbV: number; floatV: number; restFullV: number | null; heldV: number }> = {
  lifepo4: { absorbV: 13.8, floatV: 13.35, restFullV: 13.45, heldV: 13.4 },
  flooded: { absorbV: 13.9, floatV: 13.2, restFullV: null, heldV: 13.2 },
  agm: { absorbV: 13.9, floatV: 13.2, restFullV: null, heldV: 13.2 },
  gel: { absorbV: 13.7, floatV: 13.2, restFullV: null, heldV: 13.2 },
}

/** With the charger holding the voltage, a current below this share of the capacity says full [common practice]. */
const TAPER = { lithium: 0.05, lead: 0.03 } as const

/** Share of the charge that is kept, and its doubt [common practice: lithium 95–99 %, lead-acid 80–95 %]. */
const KEPT = { lithium: [0.98, 0.015], lead: [0.9, 0.05] } as const

export type PowerFixed = {
  readonly lithium: boolean
  readonly chemistry: Chemistry
  readonly nominalV: number
  readonly absorbV: number
  readonly floatV: number
  readonly restFullV: number | null
  /** From here up the charger may be holding the voltage, so that a start shows no drop. */
  readonly heldV: number
  readonly capacityAs: number | null
  readonly taperA: number | null
  readonly kept: number
  readonly keptSd: number
  /** Standard uncertainty of one reading of the battery's current: mostly its zero. */
  readonly currentSd: number
  readonly currentGainSd: number
  readonly hasCurrent: boolean
  readonly hasPanelV: boolean
  readonly array: ArrayPlace | null
}

const fixedOf = new WeakMap<SitePlan, { readonly value: PowerFixed | null }>()

/** Null: the configuration names no battery, and nothing of this matter can be said. */
export function powerFixed(plan: SitePlan): PowerFixed | null {
  let found = fixedOf.get(plan)
  if (found === undefined) {
    found = { value: make(plan) }
    fixedOf.set(plan, found)
  }
  return found.value
}

function make(plan: SitePlan): PowerFixed | null {
  const { battery } = plan.site
  if (battery === null) return null
  const kind = battery.chemistry === 'lifepo4' ? 'lithium' : 'lead'
  const ratio = battery.nominalVoltageV / 12
  const per12 = CHARGING[battery.chemistry]
  const [kept, keptSd] = KEPT[kind]
  const current = plan.index['battery-current']
  const configured = current === undefined ? null : (signalsOf(plan.site)[current]?.signal.sd ?? null)
  return {
    lithium: kind === 'lithium',
    chemistry: battery.chemistry,
    nominalV: battery.nominalVoltageV,
    absorbV: per12.absorbV * ratio,
    floatV: per12.floatV * ratio,
    restFullV: per12.restFullV === null ? null : per12.restFullV * ratio,
    heldV: per12.heldV * ratio,
    capacityAs: battery.capacityAh === null ? null : battery.capacityAh * 3600,
    taperA: battery.capacityAh === null ? null : battery.capacityAh * TAPER[kind],
    kept,
    keptSd,
    currentSd: configured ?? ROLES['battery-current'].sd,
    currentGainSd: ROLES['battery-current'].gainSd,
    hasCurrent: current !== undefined,
    hasPanelV: plan.index['panel-voltage'] !== undefined,
    array: plan.index['panel-current'] === undefined ? null : arrayPlaceOf(plan.site),
  }
}
