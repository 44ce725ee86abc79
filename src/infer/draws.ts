/**
 * What people drew from the tank while the pump filled it.
 *
 * The pump delivers at a steady rate; a draw only ever takes away. So the volume, less rate × time, is a staircase that
 * goes down: flat stretches of noise between downward steps. For a given rate the best staircase is found by dynamic
 * programming (least squares with a price for each step, segments by prefix sums); the rate is the one whose staircase
 * costs least. Long quiet stretches fix it well, however much was drawn between them.
 */
import type { Figure } from '../model/fill.js'
import { MINUTE, type Ms } from '../model/time.js'
import { quantileSorted } from './stats.js'

/** Price of a step in units of χ²: a step must explain more than three standard deviations' worth. */
const STEP_PRICE = 10
/** Rates tried, as shares of a first guess, and how finely. */
const RATE_LOW = 0.75
const RATE_HIGH = 1.2
const RATE_STEP = 0.0075
const LEAST_POINTS = 8

export type Draws = {
  /** The pump's own rate, litres a minute. */
  readonly rateLMin: Figure
  /** Drawn between the first and the last point, litres. */
  readonly drawnL: Figure
}

type Stairs = { readonly cost: number; readonly drop: number }

/**
 * @param t one instant per point, ascending
 * @param v volume in the tank, litres
 * @param sdL standard deviation of one point
 * @returns null for fewer than eight points, or where nothing rises
 */
export function findDraws(t: readonly Ms[], v: readonly number[], sdL: number): Draws | null {
  const n = t.length
  if (n < LEAST_POINTS) return null
  const minutes = t.map((at) => (at - (t[0] ?? 0)) / MINUTE)
  const guess = firstGuess(minutes, v)
  if (guess <= 0) return null
  const sd = Math.max(sdL, 0.05)
  let best: Stairs = { cost: Number.POSITIVE_INFINITY, drop: 0 }
  let bestRate = guess
  const tried: { rate: number; cost: number }[] = []
  for (let share = RATE_LOW; share <= RATE_HIGH; share += RATE_STEP) {
    const rate = guess * share
    const stairs = fitStairs(minutes, v, rate, sd)
    tried.push({ rate, cost: stairs.cost })
    if (stairs.cost < best.cost) {
      best = stairs
      bestRate = rate
    }
  }
  const near = tried.filter((one) => one.cost <= best.cost + 4).map((one) => one.rate)
  const spread = (Math.max(...near) - Math.min(...near)) / 4
  const rateSd = Math.max(spread, 0.5 * RATE_STEP * guess)
  const span = minutes[n - 1] ?? 0
  const drawnL = Math.max(0, best.drop)
  return {
    rateLMin: { value: bestRate, sd: rateSd },
    drawnL: { value: drawnL, sd: Math.hypot(rateSd * span, sd * Math.SQRT2) },
  }
}

/** A high slope over five points: most such stretches in a quiet hour have no draw in them. */
function firstGuess(minutes: readonly number[], v: readonly number[]): number {
  const slopes: number[] = []
  for (let k = 5; k < v.length; k += 1) {
    const dt = (minutes[k] ?? 0) - (minutes[k - 5] ?? 0)
    if (dt > 0) slopes.push(((v[k] ?? 0) - (v[k - 5] ?? 0)) / dt)
  }
  if (slopes.length === 0) return 0
  return quantileSorted(
    slopes.sort((a, b) => a - b),
    0.75,
  )
}

function fitStairs(minutes: readonly number[], v: readonly number[], rate: number, sd: number): Stairs {
  const n = v.length
  const sum = new Float64Array(n + 1)
  const square = new Float64Array(n + 1)
  const first = v[0] ?? 0
  for (let k = 0; k < n; k += 1) {
    const r = ((v[k] ?? 0) - first - rate * (minutes[k] ?? 0)) / sd
    sum[k + 1] = (sum[k] ?? 0) + r
    square[k + 1] = (square[k] ?? 0) + r * r
  }
  const cost = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY)
  const level = new Float64Array(n + 1)
  const top = new Float64Array(n + 1)
  cost[0] = -STEP_PRICE
  for (let end = 1; end <= n; end += 1) {
    for (let start = 0; start < end; start += 1) {
      const m = end - start
      const total = (sum[end] ?? 0) - (sum[start] ?? 0)
      const mean = total / m
      if (start > 0 && mean > (level[start] ?? 0)) continue
      const price = (cost[start] ?? 0) + STEP_PRICE + (square[end] ?? 0) - (square[start] ?? 0) - total * mean
      if (price >= (cost[end] ?? 0)) continue
      cost[end] = price
      level[end] = mean
      top[end] = start === 0 ? mean : (top[start] ?? 0)
    }
  }
  return { cost: cost[n] ?? Number.POSITIVE_INFINITY, drop: ((top[n] ?? 0) - (level[n] ?? 0)) * sd }
}
