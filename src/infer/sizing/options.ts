/** The sizes that can be bought, around what stands there now. */

/** Ampere-hours in which batteries are sold or put together, by nominal voltage up to so many volts [common practice]. */
const LADDERS: readonly (readonly [number, readonly number[]])[] = [
  [16, [25, 50, 100, 200, 300, 400, 600, 800, 1200]],
  [32, [25, 50, 100, 200, 300, 400, 600, 800]],
  [Number.POSITIVE_INFINITY, [25, 50, 100, 200, 300, 400, 600]],
]
const ARRAY_SHARES = [0.5, 0.75, 1, 1.5, 2, 3] as const
const BATTERY_BELOW = 1
const BATTERY_ABOVE = 4

/** Panels come in steps: 25 W up to 200, 50 W up to 600, 100 W up to 1,500, 250 W beyond [common practice]. */
function panelStep(watts: number): number {
  return watts <= 200 ? 25 : watts <= 600 ? 50 : watts <= 1500 ? 100 : 250
}

/** Array sizes, W, ascending; the present one is among them as it is. */
export function arraySizes(presentW: number): readonly number[] {
  const sizes = ARRAY_SHARES.map((share) => {
    const wanted = presentW * share
    return share === 1 ? presentW : Math.max(25, Math.round(wanted / panelStep(wanted)) * panelStep(wanted))
  })
  return [...new Set(sizes)].sort((a, b) => a - b)
}

/** Battery sizes, Ah, ascending; the present one, where it is known, is among them as it is. */
export function batterySizes(presentAh: number | null, volts: number): readonly number[] {
  const centre = presentAh ?? 100
  const ladder = LADDERS.find(([upTo]) => volts <= upTo)?.[1] ?? []
  const below = ladder.filter((size) => size < centre * 0.95).slice(-BATTERY_BELOW)
  const above = ladder.filter((size) => size > centre * 1.05).slice(0, BATTERY_ABOVE)
  return [...below, centre, ...above]
}

/**
 * Rough cost in units of one watt of panel: prices differ and change, but a watt-hour of battery costs more than half of
 * a watt of panel with lithium, and a quarter with lead [common practice]. Only for telling which of two is the smaller.
 */
export function roughCost(arrayW: number, batteryWh: number, lithium: boolean): number {
  return arrayW + batteryWh * (lithium ? 0.6 : 0.25)
}
