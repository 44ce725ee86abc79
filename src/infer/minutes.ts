/** One-minute means of the tank's volume during a run: few enough to keep for hours, fine enough to see a draw. */
import { MINUTE, type Ms } from '../model/time.js'

/** Three hours by the minute; a longer run keeps every second one, and so on. */
const KEPT = 180

type Minutes = { minuteT: Ms[]; minuteV: number[]; openT: Ms; openSum: number; openN: number }

/** Adds one volume, litres, at `t`. */
export function add(run: Minutes, t: Ms, volumeL: number): void {
  if (run.openN > 0 && t - run.openT >= MINUTE) {
    run.minuteT.push(run.openT + MINUTE / 2)
    run.minuteV.push(run.openSum / run.openN)
    run.openN = 0
    if (run.minuteT.length >= KEPT) {
      run.minuteT = run.minuteT.filter((_, i) => i % 2 === 0)
      run.minuteV = run.minuteV.filter((_, i) => i % 2 === 0)
    }
  }
  if (run.openN === 0) {
    run.openT = t
    run.openSum = 0
  }
  run.openSum += volumeL
  run.openN += 1
}
