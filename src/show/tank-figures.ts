/** What the drawing of a tank needs beyond its settings. */
import { volumeAt } from '../infer/tank.js'
import type { TankSettings, TankShape } from '../model/settings.js'

export type TankFigures = {
  /** Height of the drawing, m. */
  readonly heightM: number
  /** As seen from the side (a lying cylinder: from its end); null: a table does not say. */
  readonly widthM: number | null
  /** Litres at the overflow level. */
  readonly capacityL: number
  /** Level at which the reserve begins; null: no reserve is configured. */
  readonly reserveM: number | null
}

function outline(shape: TankShape): { heightM: number; widthM: number | null } {
  switch (shape.kind) {
    case 'box':
      return { heightM: shape.heightM, widthM: shape.lengthM }
    case 'upright-cylinder':
      return { heightM: shape.heightM, widthM: shape.diameterM }
    case 'lying-cylinder':
      return { heightM: shape.diameterM, widthM: shape.diameterM }
    case 'table':
      return { heightM: shape.points.at(-1)?.[0] ?? 0, widthM: null }
  }
}

/** The level that holds `volumeL`, by halving: volume only grows with level. Within 0.1 mm for tanks up to 20 m. */
export function levelAt(shape: TankShape, volumeL: number, heightM: number): number {
  let low = 0
  let high = heightM
  for (let step = 0; step < 20; step += 1) {
    const middle = (low + high) / 2
    if (volumeAt(shape, middle) < volumeL) low = middle
    else high = middle
  }
  return (low + high) / 2
}

export function tankFigures(tank: TankSettings): TankFigures {
  const { heightM, widthM } = outline(tank.shape)
  const reserveM = tank.reserveL === null ? null : levelAt(tank.shape, tank.reserveL, heightM)
  return { heightM, widthM, capacityL: volumeAt(tank.shape, tank.fullM), reserveM }
}
