/** Volume of water in a tank by its level. Lengths in metres, volumes in litres. */
import type { TankShape } from '../model/settings.js'

const LITRES_PER_M3 = 1000

/** Litres below `levelM`; a level under the floor gives 0, one over the top gives the full tank. */
export function volumeAt(shape: TankShape, levelM: number): number {
  switch (shape.kind) {
    case 'box':
      return shape.lengthM * shape.widthM * clamp(levelM, shape.heightM) * LITRES_PER_M3
    case 'upright-cylinder':
      return (Math.PI / 4) * shape.diameterM ** 2 * clamp(levelM, shape.heightM) * LITRES_PER_M3
    case 'lying-cylinder':
      return lyingCylinder(shape.diameterM / 2, shape.lengthM, clamp(levelM, shape.diameterM))
    case 'table':
      return interpolate(shape.points, levelM)
  }
}

/** Litres per metre of level at `levelM`: the slope of `volumeAt` over ±1 cm. */
export function litresPerMetre(shape: TankShape, levelM: number): number {
  const half = 0.01
  return (volumeAt(shape, levelM + half) - volumeAt(shape, levelM - half)) / (2 * half)
}

/** Flat-ended cylinder on its side: L·[r²·acos((r−h)/r) − (r−h)·√(2rh−h²)]. */
function lyingCylinder(r: number, length: number, h: number): number {
  const area = r * r * Math.acos((r - h) / r) - (r - h) * Math.sqrt(Math.max(0, 2 * r * h - h * h))
  return area * length * LITRES_PER_M3
}

function interpolate(points: readonly (readonly [number, number])[], levelM: number): number {
  const first = points[0]
  if (first === undefined) return 0
  let below = first
  for (const point of points) {
    if (levelM < point[0]) {
      if (point === first) return first[1]
      const share = (levelM - below[0]) / (point[0] - below[0])
      return below[1] + share * (point[1] - below[1])
    }
    below = point
  }
  return below[1]
}

function clamp(level: number, height: number): number {
  return Math.max(0, Math.min(level, height))
}
