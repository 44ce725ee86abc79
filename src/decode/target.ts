/** A signal made ready for the hot path: its limits, sentinels and conversions looked up once. */
import { type UnitConversion, payloadUnit, payloadUnitNames, standardUnit } from '../model/payload-units.js'
import { ROLES, type RoleSpec } from '../model/roles.js'
import type { RefusalReason } from '../model/sample.js'
import type { SignalSettings } from '../model/settings.js'
import { type Truth, truthOf } from './contact.js'

export type Target = {
  readonly signal: SignalSettings
  readonly spec: RoleSpec
  readonly low: number
  readonly high: number
  readonly sentinels: readonly number[]
  /** Values before calibration that mean "failed": configured ones, and the full scale of a bare converter. */
  readonly rawSentinels: readonly number[]
  /** No scale, offset or table: the value is only converted from its unit. */
  readonly plain: boolean
  /** Conversion from the unit that the configuration names. */
  readonly configured: UnitConversion
  readonly truth: Truth
}

/** Full scale of 12-bit and 16-bit converters: what a bare analogue input reads with its wire off (common practice). */
const CONVERTER_FULL_SCALE = [4095, 65535] as const

/** @throws Error when the signal's unit cannot become its role's unit; names the signal and the units that can */
export function targetOf(signal: SignalSettings): Target {
  const spec: RoleSpec = ROLES[signal.role]
  const plain = signal.table === null && signal.scale === 1 && signal.offset === 0
  const configured = signal.table !== null ? { scale: 1, offset: 0 } : payloadUnit(spec.unit, signal.unit ?? '')
  if (configured === null) {
    const accepted = payloadUnitNames(spec.unit).join(', ')
    throw new Error(`signal ${signal.key}: found unit "${signal.unit}", expected one of ${accepted}`)
  }
  return {
    signal,
    spec,
    low: signal.low === null ? spec.low : Math.max(signal.low, spec.low),
    high: signal.high === null ? spec.high : Math.min(signal.high, spec.high),
    sentinels: [...spec.sentinels, ...signal.sentinels],
    rawSentinels: plain ? signal.sentinels : [...CONVERTER_FULL_SCALE, ...signal.sentinels],
    plain,
    configured,
    truth: truthOf(signal.trueWhen),
  }
}

const SI: UnitConversion = { scale: 1, offset: 0 }

/**
 * How a record's value becomes SI: by its own unit if it has one, else by the configured one. A calibration table takes
 * any that is not contradicted. Null where the unit cannot be.
 */
export function unitOf(target: Target, unit: string): UnitConversion | null {
  if (unit === '') return target.configured
  if (unit === target.spec.unit && target.plain) return SI
  if (target.signal.table === null) return standardUnit(target.spec.unit, unit)
  return target.signal.unit === null || target.signal.unit === unit ? SI : null
}

/**
 * The value in the role's SI unit: `raw * scale + offset` is in the payload's unit, which is then converted; or, with
 * a calibration table, what the table says (already SI), infinite outside it.
 */
export function toSi(target: Target, raw: number, unit: UnitConversion): number {
  if (target.plain) return raw * unit.scale + unit.offset
  const { table, scale, offset } = target.signal
  return table === null ? (raw * scale + offset) * unit.scale + unit.offset : interpolate(table, raw)
}

/** Straight lines between the points; infinite outside them, as nothing is known there. */
export function interpolate(table: readonly (readonly [number, number])[], raw: number): number {
  let before: readonly [number, number] | undefined
  for (const point of table) {
    if (raw === point[0]) return point[1]
    if (raw < point[0]) {
      if (before === undefined) return Number.NEGATIVE_INFINITY
      return before[1] + ((point[1] - before[1]) * (raw - before[0])) / (point[0] - before[0])
    }
    before = point
  }
  return Number.POSITIVE_INFINITY
}

/**
 * Why a value is not believed, or null when it is.
 *
 * @param raw as the payload gave it
 * @param si the same in the role's unit
 */
export function doubt(target: Target, raw: number, si: number): RefusalReason | null {
  if (!Number.isFinite(raw)) return 'not-finite'
  if (isOneOf(target.sentinels, si) || isOneOf(target.rawSentinels, raw)) return 'sentinel'
  return si >= target.low && si <= target.high ? null : 'out-of-range'
}

function isOneOf(sentinels: readonly number[], value: number): boolean {
  for (const sentinel of sentinels) {
    // Not exact: 185 degF is 85 Cel only to the last few bits.
    if (Math.abs(value - sentinel) <= 1e-9 * Math.max(1, Math.abs(sentinel))) return true
  }
  return false
}
