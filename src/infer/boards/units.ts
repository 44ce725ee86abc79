/** Which unit or scale a signal has likely slipped into, by how its values stand to those before. */
import type { RoleSpec } from '../../model/roles.js'

type Slip = { readonly factor: number; readonly words: string }

const LENGTHS: readonly Slip[] = [
  { factor: 100, words: 'centimetres where metres are expected' },
  { factor: 1_000, words: 'millimetres where metres are expected' },
  { factor: 0.01, words: 'metres where centimetres are expected' },
  { factor: 0.001, words: 'metres where millimetres are expected' },
  // The international foot and inch are exact.
  { factor: 1 / 0.3048, words: 'feet where metres are expected' },
  { factor: 0.3048, words: 'metres converted as if they were feet' },
  { factor: 1 / 0.0254, words: 'inches where metres are expected' },
  { factor: 2.54, words: 'centimetres converted as if they were inches' },
  { factor: 1 / 2.54, words: 'inches where centimetres are expected' },
]
const ELECTRIC: readonly Slip[] = [
  { factor: 1_000, words: 'thousandths (milli) where whole units are expected' },
  { factor: 100, words: 'hundredths where whole units are expected' },
  { factor: 10, words: 'tenths where whole units are expected' },
  { factor: 2, words: 'the scale of twice the nominal voltage' },
  { factor: 0.5, words: 'the scale of half the nominal voltage, as 12 V for 24 V' },
]
/** Gain errors of sensors and what truly changed meanwhile. */
const NEAR = 0.025
/** Voltages swing with the charge. */
const NEAR_ELECTRIC = 0.25

/** A slip of a length, °C or other: `place` is kept in state, so that it is plain data; −1: none. */
export function slipOf(spec: RoleSpec, before: number, now: number): number {
  if (spec.unit === 'm') return nearest(LENGTHS, now / before, NEAR)
  if (spec.unit === 'Cel') {
    if (Math.abs(now - (before * 1.8 + 32)) < 1.5 && Math.abs(now - before) > 8) return 0
    if (Math.abs(now - (before - 32) / 1.8) < 1 && Math.abs(now - before) > 8) return 1
  }
  return -1
}

/** What the reading would be without the slip. */
export function withoutSlip(spec: RoleSpec, slip: number, value: number): number {
  if (spec.unit === 'm') return value / (LENGTHS[slip]?.factor ?? 1)
  return slip === 0 ? (value - 32) / 1.8 : value * 1.8 + 32
}

export function slipWords(spec: RoleSpec, slip: number): string {
  if (spec.unit === 'm') return LENGTHS[slip]?.words ?? 'another unit'
  return slip === 0 ? 'degrees Fahrenheit where Celsius is expected' : 'Celsius converted as if it were Fahrenheit'
}

/** Of a voltage against its nominal one, or a current against its usual; null: none fits. */
export function electricSlip(ratio: number): string | null {
  const place = nearest(ELECTRIC, ratio, NEAR_ELECTRIC)
  return ELECTRIC[place]?.words ?? null
}

function nearest(slips: readonly Slip[], ratio: number, near: number): number {
  if (!(ratio > 0)) return -1
  return slips.findIndex(({ factor }) => Math.abs(ratio / factor - 1) < near)
}
