/** Sixty days behind a known horizon, minute by minute: what the stored hours would be, and what truly arrives. */
import { Random } from '../../../simulators/random.js'
import { sunPlace } from '../../../simulators/sun.js'
import { clearHour, clearOnPlane, courseOfDay } from '../../../src/infer/energy/clear.js'
import type { EnergyHour } from '../../../src/model/facts-balance.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../../src/model/time.js'
import { ARRAY_W, type Horizon, LATITUDE, LONGITUDE, panelMoment } from './truth.js'

/** A ridge in the morning, a tree in the afternoon, the plain between. */
export const HORIZON: Horizon = (azimuthDeg) => {
  if (azimuthDeg < 128) return 24
  if (azimuthDeg > 205 && azimuthDeg < 228) return 38
  return 2
}
const PLACE = { latitudeDeg: LATITUDE, longitudeDeg: LONGITUDE, elevationM: 1850 }
const PLANE = { tiltDeg: 45, azimuthDeg: 180 }
const ARRIVES = 0.86
const STEP = 4 * MINUTE
/** Battery of 2 kWh, loads that leave it full on many a clear afternoon. */
const USABLE_WH = 2_000
const LOAD_W = 60

export type ShadeDays = {
  readonly hours: readonly EnergyHour[]
  /** By hour of UTC: clear-sky power behind the horizon over that without it, over the whole time; NaN without sun. */
  readonly transmission: readonly number[]
}

export type Soiling = { readonly fromDay: number; readonly toDay: number; readonly share: number }

export function shadeDays(seed: number, start: Ms, days: number, soiling: Soiling | null = null): ShadeDays {
  const random = new Random(seed, 'shade')
  let slow = random.normal()
  let quick = 0
  let stored = 0.6 * USABLE_WH
  const hours: EnergyHour[] = []
  const behind = new Float64Array(24)
  const open = new Float64Array(24)
  for (let at = start; at < start + days * DAY; at += HOUR) {
    const course = courseOfDay(PLACE, at)
    const sums = { harvest: 0, free: 0, freeClear: 0, held: 0, sun: 0, load: 0 }
    const hour = Math.floor(at / HOUR) % 24
    const day = Math.floor((at - start) / DAY)
    const clean = soiling !== null && day >= soiling.fromDay && day < soiling.toDay ? soiling.share : 1
    for (let t = at; t < at + HOUR; t += STEP) {
      slow += -slow / 720 + Math.sqrt(2 / 720) * random.normal()
      quick += -quick / 3 + Math.sqrt(2 / 3) * 0.9 * random.normal()
      const cloud = Math.max(0, Math.min(1, 0.35 + 0.38 * slow + 0.15 * quick))
      const sun = sunPlace(t, LATITUDE, LONGITUDE)
      const could = ARRAY_W * ARRIVES * clean * panelMoment(sun, cloud, HORIZON)
      behind[hour] = (behind[hour] ?? 0) + panelMoment(sun, 0, HORIZON)
      open[hour] = (open[hour] ?? 0) + panelMoment(sun, 0, undefined)
      const load = LOAD_W * (0.6 + 0.8 * random.next())
      const gives = stored >= USABLE_WH ? Math.min(could, load) : could
      stored = Math.max(0, Math.min(USABLE_WH, stored + ((gives - load) * STEP) / HOUR))
      const clear = ARRAY_W * clearOnPlane(course, PLANE, t)
      const share = STEP / HOUR
      sums.harvest += gives * share
      sums.load += load * share
      if (clear < 0.02 * ARRAY_W) continue
      sums.sun += share
      if (gives < could) sums.held += share
      else {
        sums.free += gives * share
        sums.freeClear += clear * share
      }
    }
    hours.push({
      at,
      covered: 1,
      harvestWh: sums.harvest,
      clearWh: ARRAY_W * clearHour(course, PLANE, at),
      freeWh: sums.free,
      freeClearWh: sums.freeClear,
      heldShare: sums.sun > 0 ? sums.held / sums.sun : null,
      pumpWh: 0,
      loadWh: sums.load,
      chargeWh: null,
      dischargeWh: null,
      batteryC: 12,
      airC: 8,
    })
  }
  // Below some 40 W/m² of clear sky in the mean there is nothing to tell and nothing to lose.
  const steps = (days * HOUR) / STEP
  const transmission = Array.from(open, (sum, i) => (sum / steps > 0.04 ? (behind[i] ?? 0) / sum : Number.NaN))
  return { hours, transmission }
}
