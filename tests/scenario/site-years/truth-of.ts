/** Whether what was told is true: by what really happened, as no sensor saw it. Null: it is not, the message is false. */
import type { Notice } from '../../../src/model/alarm.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../../src/model/time.js'
import type { MarkId, Truth } from '../../../simulators/truth.js'

/** Marks within this time before the message make it true; of forecasts also such after it. */
const LATELY = DAY

export function whyTrue({ at, alarm }: Notice, truth: Truth): string | null {
  const seen = (what: MarkId, from: Ms, to: Ms): boolean =>
    truth.marks.some((mark) => mark.what === what && mark.at >= from && mark.at <= to)
  const lately = (...whats: readonly MarkId[]): boolean => whats.some((what) => seen(what, at - LATELY, at))
  switch (alarm.id) {
    case 'dry-well':
    case 'no-rise':
      return lately('water-stopped', 'no-water') ? 'no water came' : null
    case 'fill-long':
      return longRun(at, truth)
    case 'tank-low':
      return lately('below-reserve') ? 'the tank was below its reserve' : null
    case 'overfill':
      return lately('past-high', 'overflowed') ? 'the tank was past its mark' : null
    case 'battery-low':
      return seen('charge-low', at - LATELY, at + LATELY) || seen('cut-off', at - LATELY, at + LATELY)
        ? 'the battery was nearly empty'
        : null
    case 'pump-no-start':
      return lately('cut-off', 'went-dark') ? 'the battery had cut the pump off' : null
    case 'freezing':
    case 'freeze-risk':
      return cold(at, truth, alarm.id === 'freeze-risk' ? FORECAST_C : 0.3)
    case 'board-silent':
    case 'site-silent':
      return silent(at, truth)
    case 'battery-not-full':
      return seldomFull(at, truth)
    case 'stale-water':
      return littleUsed(at, truth)
    default:
      return null
  }
}

/** The contract's own limit: a run of more than two hours. */
function longRun(at: Ms, truth: Truth): string | null {
  const long = truth.runs.some((run) => run.start <= at && run.end >= at - HOUR && run.end - run.start >= 2 * HOUR)
  return long ? 'the pump ran for more than 2 h' : null
}

/** A forecast of 0 °C that misses by so little was worth telling: the best of them are sure to two degrees. */
const FORECAST_C = 2

/** The line's wall came to `limitC` in the night that the message is about. */
function cold(at: Ms, truth: Truth, limitC: number): string | null {
  const days = truth.days.filter((day) => day.end > at - 6 * HOUR && day.start < at + 24 * HOUR)
  const lowest = Math.min(...days.map((day) => day.lineMinC))
  return lowest <= limitC ? `the line came to ${lowest.toFixed(1)} °C` : null
}

/** Longer than any outage that heals itself at such a place. */
const OUTAGE_USUAL = 6 * HOUR

function silent(at: Ms, truth: Truth): string | null {
  const downs = truth.marks.filter((mark) => mark.what === 'link-down' && mark.at <= at)
  const down = downs.at(-1)?.at
  const up = truth.marks.find((mark) => mark.what === 'link-up' && mark.at >= (down ?? 0))?.at ?? truth.end
  if (down !== undefined && up >= at - 20 * MINUTE && up - down > OUTAGE_USUAL) return 'the link was down for long'
  return truth.marks.some((mark) => mark.what === 'went-dark' && mark.at <= at && mark.at >= at - 7 * DAY)
    ? 'the battery was empty and the boards dark'
    : null
}

/** A battery of 24 V is taken for full at 27.6 V, one of 12 V at 13.8 V: well into absorption (common practice). */
function seldomFull(at: Ms, truth: Truth): string | null {
  const fullV = truth.site === 'juniper' ? 27.6 : 13.8
  const days = truth.days.filter((day) => day.start < at && day.end > at - 3 * DAY)
  return days.every((day) => day.batteryMaxV < fullV) ? 'not full for three days' : null
}

function littleUsed(at: Ms, truth: Truth): string | null {
  const days = truth.days.filter((day) => day.start < at && day.end > at - 7 * DAY)
  const usedL = days.reduce((sum, day) => sum + day.usedL, 0)
  const tankL = truth.site === 'juniper' ? 1_290 : 900
  return usedL < tankL ? `${Math.round(usedL)} l used in a week` : null
}
