/**
 * Electrical energy of one run: ∫ V·I dt by the trapezoid rule on the union of both signals' times, each
 * interpolated between its own samples. A gap longer than a few intervals makes the figure unknown, not smaller.
 */
import type { Ms } from '../model/time.js'
import type { Ring } from './ring.js'

/** A first sample this many times the second is the inrush, which lasts under a second: it tells a start, not energy. */
const INRUSH_RATIO = 1.6

type Segment = { readonly t0: Ms; readonly i0: number; readonly t1: Ms; readonly i1: number }

export type EnergyState = {
  pending: Segment[]
  samples: number
  /** Watt-seconds and ampere-seconds so far. */
  ws: number
  as: number
  seconds: number
  gapS: number
  known: boolean
}

/** Begins with the last sample before the pump ran and the first that shows it running. */
export function beginEnergy(t0: Ms, i0: number, t1: Ms, i1: number): EnergyState {
  return { pending: [{ t0, i0, t1, i1 }], samples: 1, ws: 0, as: 0, seconds: 0, gapS: 0, known: true }
}

/** Takes the next current sample, A less the sensor's zero. */
export function addCurrent(state: EnergyState, t: Ms, current: number, gapMaxMs: number): void {
  const last = state.pending.at(-1)
  if (last === undefined) return
  if (t - last.t1 > gapMaxMs) {
    state.known = false
    state.gapS += (t - last.t1) / 1000
  }
  let i0 = last.i1
  if (state.samples === 1 && i0 > INRUSH_RATIO * current && current > 0) {
    i0 = current
    state.pending[state.pending.length - 1] = { ...last, i1: current }
  }
  state.samples += 1
  state.pending.push({ t0: last.t1, i0, t1: t, i1: current })
}

/**
 * Integrates what can be integrated: every segment but the newest (its end may yet prove to be inrush), once a
 * voltage at or after its end is known. With `all`, also the newest, and what has no voltage makes the energy unknown.
 * A voltage that has been missing for longer than the gap is not waited for: it would come too late to tell, and a
 * pump whose voltage never comes back would fill the memory.
 */
export function settleEnergy(state: EnergyState, volts: Ring, gapMaxMs: number, all: boolean): void {
  const newestV = volts.t.at(-1) ?? Number.NEGATIVE_INFINITY
  const waitingSince = Math.max(newestV, state.pending[0]?.t0 ?? newestV)
  const tooLate = (state.pending.at(-1)?.t1 ?? newestV) - waitingSince > gapMaxMs
  const keep = all ? 0 : 1
  let done = 0
  for (const segment of state.pending) {
    if (state.pending.length - done <= keep) break
    if (segment.t1 > newestV && !all && !tooLate) break
    integrate(state, segment, volts, gapMaxMs)
    done += 1
  }
  if (done > 0) state.pending.splice(0, done)
}

function integrate(state: EnergyState, s: Segment, volts: Ring, gapMaxMs: number): void {
  const span = s.t1 - s.t0
  if (span <= 0) return
  state.seconds += span / 1000
  state.as += ((s.i0 + s.i1) / 2) * (span / 1000)
  let k = firstAfter(volts, s.t0)
  let t = s.t0
  let v = voltageAt(volts, k, t, gapMaxMs)
  let i = s.i0
  while (t < s.t1) {
    const vt = volts.t[k] ?? Number.POSITIVE_INFINITY
    const next = Math.min(vt, s.t1)
    const nextV = next === vt ? (volts.v[k] ?? Number.NaN) : voltageAt(volts, k, next, gapMaxMs)
    const nextI = s.i0 + ((s.i1 - s.i0) * (next - s.t0)) / span
    if (Number.isNaN(v) || Number.isNaN(nextV)) {
      state.known = false
      return
    }
    state.ws += ((v * i + nextV * nextI) / 2) * ((next - t) / 1000)
    t = next
    v = nextV
    i = nextI
    if (next === vt) k += 1
  }
}

/** Index of the first voltage with t > `t`. */
function firstAfter(volts: Ring, t: Ms): number {
  let k = volts.t.length
  while (k > 0 && (volts.t[k - 1] ?? 0) > t) k -= 1
  return k
}

/** Voltage at `t`, between samples k−1 and k; NaN when the nearest are too far apart or there is none. */
function voltageAt(volts: Ring, k: number, t: Ms, gapMaxMs: number): number {
  const t0 = volts.t[k - 1]
  const t1 = volts.t[k]
  const v0 = volts.v[k - 1]
  const v1 = volts.v[k]
  if (t0 === undefined || v0 === undefined)
    return t1 !== undefined && t1 - t <= gapMaxMs ? (v1 ?? Number.NaN) : Number.NaN
  if (t1 === undefined || v1 === undefined) return t - t0 <= gapMaxMs ? v0 : Number.NaN
  if (t1 - t0 > gapMaxMs) return Number.NaN
  return v0 + ((v1 - v0) * (t - t0)) / (t1 - t0)
}

/**
 * Least energy that lifting water can take: ρ·g·H, 1,000 kg/m³ × 9.80665 m/s² × H, in Wh per litre
 * (0.1090 Wh/l for 40 m). A measured figure below it is a sensor's or a configuration's error.
 */
export function hydraulicFloorWhPerL(liftM: number): number {
  return (9.80665 * liftM) / 3600
}
