/** Where things stand in the section drawing. Pure numbers, in units of its view box; y grows downwards. */
import type { NowBody } from '../bodies/now.js'

type Tank = NonNullable<NowBody['tank']>

export const VIEW = { width: 360, height: 392, ground: 262 } as const
const TANK = { x: 62, heightMax: 214, widthMax: 150 } as const
/** A table of levels and volumes does not say how wide its tank is. */
const WIDTH_GUESS = 0.9
const LABEL_GAP = 16

export type Frame = {
  readonly x: number
  readonly width: number
  readonly top: number
  readonly bottom: number
  /** Whether width and height are drawn by one scale. */
  readonly toScale: boolean
  readonly y: (levelM: number) => number
}

/** Places the tank on the ground line, as large as fits, width and height by one scale. */
export function tankFrame(tank: Tank): Frame {
  const heightM = Math.max(tank.height_m, tank.full_m, 0.01)
  const widthM = tank.width_m ?? heightM * WIDTH_GUESS
  const scale = Math.min(TANK.heightMax / heightM, TANK.widthMax / widthM)
  const bottom = VIEW.ground
  return {
    x: TANK.x,
    width: widthM * scale,
    top: bottom - heightM * scale,
    bottom,
    toScale: tank.width_m !== null,
    y: (levelM) => bottom - Math.min(Math.max(levelM, 0), heightM) * scale,
  }
}

export type Mark = { readonly kind: 'full' | 'high' | 'low' | 'reserve'; readonly levelM: number }

/** The marks of a tank, highest first. */
export function marksOf(tank: Tank): Mark[] {
  const marks: Mark[] = [
    { kind: 'full', levelM: tank.full_m },
    { kind: 'high', levelM: tank.high_mark_m },
    { kind: 'low', levelM: tank.low_mark_m },
  ]
  if (tank.reserve_m !== null) marks.push({ kind: 'reserve', levelM: tank.reserve_m })
  return marks.toSorted((a, b) => b.levelM - a.levelM)
}

/**
 * Moves labels apart so that none lies on another: each at least `gap` below the one above, the stack pushed back up
 * where it would leave `bottom`. `wanted` ascends; the answer keeps its order.
 */
export function spread(wanted: readonly number[], bottom: number, gap: number = LABEL_GAP): number[] {
  const placed: number[] = []
  for (const y of wanted) placed.push(Math.max(y, (placed.at(-1) ?? Number.NEGATIVE_INFINITY) + gap))
  let limit = bottom
  for (let index = placed.length - 1; index >= 0; index -= 1) {
    placed[index] = Math.min(placed[index] ?? limit, limit)
    limit = (placed[index] ?? limit) - gap
  }
  return placed
}

/** What the drawing may claim of the water: a surface where one is known, else a band where it must lie. */
export type Surface =
  | { readonly kind: 'measured'; readonly levelM: number }
  | { readonly kind: 'between'; readonly fromM: number; readonly toM: number; readonly words: string }
  | { readonly kind: 'unknown' }

/** Reads level or probes. Two probes that contradict each other leave the surface unknown. */
export function surfaceOf(tank: Tank, water: NowBody['water']): Surface {
  if (water === null) return { kind: 'unknown' }
  if (water.level_m !== null) return { kind: 'measured', levelM: water.level_m }
  const { low_wet: low, high_wet: high, full_wet: full } = water
  if (low === false && high === true) return { kind: 'unknown' }
  if (full === true) return { kind: 'between', fromM: tank.full_m, toM: tank.height_m, words: 'at the overflow' }
  if (high === true) {
    return { kind: 'between', fromM: tank.high_mark_m, toM: tank.full_m, words: 'at or above the high mark' }
  }
  if (low === false) return { kind: 'between', fromM: 0, toM: tank.low_mark_m, words: 'below the low mark' }
  if (low === true && high === false) {
    return { kind: 'between', fromM: tank.low_mark_m, toM: tank.high_mark_m, words: 'between low and high' }
  }
  return { kind: 'unknown' }
}
