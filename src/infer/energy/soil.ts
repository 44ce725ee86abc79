/** Dirt and snow: a loss that lies over all hours of a day alike, comes with a step or slowly, and goes again. */
import { DAY, type Ms } from '../../model/time.js'
import { quantile } from '../stats.js'
import type { Ratio, Share } from './shade.js'

/** Days on either side within which an hour without cloud is expected. */
const WINDOW_DAYS = 4
/** Less than this of what is usual, and something lies on the panel. */
const SOILED = 0.88
/** So little cannot be told from cloud unless it comes in one step and is gone within days. */
const COVERED = 0.25
const HOURS_LEAST = 3
const SHADED = 0.4
/** Half months on either side, and the hours in each. */
const BESIDE = 3
const HOURS = 24

export type SoilSpell = {
  readonly from: Ms
  /** End of the last day of it. */
  readonly to: Ms
  /** What was left of the usual harvest. */
  readonly share: number
  readonly kind: 'soiled' | 'covered'
}

/**
 * Factor of each UTC day: the best hours of the days around it against what these hours usually give. Weeks of cloud
 * without one clear hour look the same as dirt: then it says soiled, and the sizes below are the safer for it.
 */
export function soilByDay(ratios: readonly Ratio[], shares: readonly Share[]): ReadonlyMap<Ms, number> {
  const best = shares.reduce((most, share) => Math.max(most, share?.share ?? 0), 0)
  const byDay = new Map<Ms, number[]>()
  for (const { day, index, ratio } of ratios) {
    const clean = cleanShare(shares, index)
    if (clean < SHADED * best) continue
    const list = byDay.get(day)
    if (list === undefined) byDay.set(day, [ratio / clean])
    else list.push(ratio / clean)
  }
  const levels = new Map<Ms, number>()
  for (const [day, list] of byDay) if (list.length >= HOURS_LEAST) levels.set(day, quantile(list, 0.8))
  const soil = new Map<Ms, number>()
  for (const day of byDay.keys()) {
    let clear = 0
    let n = 0
    for (let step = -WINDOW_DAYS; step <= WINDOW_DAYS; step += 1) {
      const level = levels.get(day + step * DAY)
      if (level === undefined) continue
      clear = Math.max(clear, level)
      n += 1
    }
    const level = levels.get(day)
    const covered = level !== undefined && level < COVERED && isStep(levels, day)
    soil.set(day, covered ? level : n >= WINDOW_DAYS && clear < SOILED ? clear : 1)
  }
  return soil
}

/** The best of this hour within six weeks on either side: dirt that lay through a whole stretch is not in all of them. */
function cleanShare(shares: readonly Share[], index: number): number {
  let clean = 0
  for (let step = -BESIDE; step <= BESIDE; step += 1) {
    const at = (index + step * HOURS + shares.length) % shares.length
    clean = Math.max(clean, shares[at]?.share ?? 0)
  }
  return clean
}

/** A day on which next to nothing came, between days that were as usual not long before and after. */
function isStep(levels: ReadonlyMap<Ms, number>, day: Ms): boolean {
  const good = (from: number, to: number): boolean => {
    for (let step = from; step <= to; step += 1) if ((levels.get(day + step * DAY) ?? 0) > 0.8) return true
    return false
  }
  // Cloud as thick as this does not last from morning to evening for two days on end.
  const beside = [-1, 1].some((step) => (levels.get(day + step * DAY) ?? 1) < COVERED)
  return beside && good(-6, -1) && good(1, 6)
}

/** Days that belong together. */
export function soilSpells(soil: ReadonlyMap<Ms, number>): readonly SoilSpell[] {
  const spells: SoilSpell[] = []
  const days = [...soil.keys()].sort((a, b) => a - b)
  let open: { from: Ms; to: Ms; shares: number[] } | null = null
  const close = (): void => {
    if (open === null) return
    const share = open.shares.reduce((sum, one) => sum + one, 0) / open.shares.length
    spells.push({ from: open.from, to: open.to, share, kind: share < COVERED ? 'covered' : 'soiled' })
    open = null
  }
  for (const day of days) {
    const share = soil.get(day) ?? 1
    if (share >= 1) {
      close()
      continue
    }
    if (open !== null && day - open.to > 2 * DAY) close()
    if (open === null) open = { from: day, to: day + DAY, shares: [share] }
    else {
      open.to = day + DAY
      open.shares.push(share)
    }
  }
  close()
  return spells
}
