import type { Figure } from '../model/fill.js'

/** A number for a column: NULL for what is not known, and for what is not a number. */
export function known(value: number | null | undefined): number | null {
  return value === null || value === undefined || Number.isNaN(value) ? null : value
}

/** A value and its standard uncertainty from two columns. */
export function figure(value: number | null, sd: number | null): Figure | null {
  return value === null || sd === null ? null : { value, sd }
}

export function flag(value: boolean | null): number | null {
  return value === null ? null : Number(value)
}

export function unflag(value: number | null): boolean | null {
  return value === null ? null : value !== 0
}
