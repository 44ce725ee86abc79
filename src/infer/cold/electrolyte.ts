/**
 * Where the electrolyte of a lead-acid battery freezes, by its charge. US Army TM 5-3820-256-24-4, table 2 (full at a
 * density of 1.265); its row of 25 % prints −15.0 °C beside +15 °F: −15 °C is +5 °F, as TM 5-1185 has it for 1.150.
 */
const FREEZES: readonly (readonly [share: number, celsius: number])[] = [
  [0, -9.4],
  [0.25, -15],
  [0.5, -26.1],
  [0.75, -37.2],
  [1, -59.5],
]

/** Voltage of a 12 V battery at rest by its charge [trade source]; empty taken 0.15 V below a quarter. */
const RESTS: readonly (readonly [volts: number, share: number])[] = [
  [12.0, 0],
  [12.15, 0.25],
  [12.3, 0.5],
  [12.45, 0.75],
  [12.66, 1],
]

function between(table: readonly (readonly [number, number])[], x: number): number {
  const first = table[0] ?? [0, 0]
  let [beforeX, beforeY] = first
  if (x <= beforeX) return beforeY
  for (const [nextX, nextY] of table) {
    if (x <= nextX && nextX > beforeX) return beforeY + ((x - beforeX) / (nextX - beforeX)) * (nextY - beforeY)
    beforeX = nextX
    beforeY = nextY
  }
  return beforeY
}

/** °C at which the electrolyte freezes, for a charge of 0…1. */
export function electrolyteFreezesAtC(chargeShare: number): number {
  return between(FREEZES, chargeShare)
}

/** Charge, 0…1, of a lead-acid battery that has rested, from its voltage and its nominal one. */
export function restingCharge(volts: number, nominalV: number): number {
  return between(RESTS, (volts * 12) / nominalV)
}
