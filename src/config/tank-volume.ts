/** How much a tank holds up to a level. */
import type { TankShape } from '../model/settings.js'

const LITRES_PER_M3 = 1000

/** Height of the tank's top, m; of a table, its highest level. */
export function tankHeightM(shape: TankShape): number {
  switch (shape.kind) {
    case 'box':
    case 'upright-cylinder':
      return shape.heightM
    case 'lying-cylinder':
      return shape.diameterM
    case 'table':
      return shape.points.at(-1)?.[0] ?? 0
  }
}

/** Litres up to a level, which is clamped to the tank. */
export function tankVolumeL(shape: TankShape, levelM: number): number {
  const h = Math.min(Math.max(levelM, 0), tankHeightM(shape))
  switch (shape.kind) {
    case 'box':
      return shape.lengthM * shape.widthM * h * LITRES_PER_M3
    case 'upright-cylinder':
      return (Math.PI / 4) * shape.diameterM ** 2 * h * LITRES_PER_M3
    case 'lying-cylinder':
      return circleSegmentM2(shape.diameterM / 2, h) * shape.lengthM * LITRES_PER_M3
    case 'table':
      return interpolate(shape.points, h)
  }
}

/** Area of a circle below a chord at height h. */
function circleSegmentM2(r: number, h: number): number {
  return r ** 2 * Math.acos((r - h) / r) - (r - h) * Math.sqrt(Math.max(0, 2 * r * h - h ** 2))
}

function interpolate(points: readonly (readonly [number, number])[], h: number): number {
  let before = points[0] ?? [0, 0]
  for (const point of points) {
    if (h <= point[0]) {
      const span = point[0] - before[0]
      return span === 0 ? point[1] : before[1] + ((h - before[0]) / span) * (point[1] - before[1])
    }
    before = point
  }
  return before[1]
}
