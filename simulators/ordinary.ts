/** Ordinary life at a place, with all that must not raise an alarm: guests, empty weeks, storms, a poor link. */
import type { LinkOptions } from './link.js'
import type { GuestSpell, Spell } from './household.js'
import { Random } from './random.js'

export type OrdinaryLife = {
  readonly guests: readonly GuestSpell[]
  readonly away: readonly Spell[]
  readonly storms: readonly Spell[]
  readonly link: LinkOptions
}

/**
 * Options for `simulate`, to be spread into them. Each fortnight, after a first quiet week: a weekend of two to four
 * guests, and a storm of a day or two; each month, an empty week between guests. The link fails twice a day, for minutes to 6 h.
 */
export function ordinaryLife(seed: number, days: number): OrdinaryLife {
  const random = new Random(seed, 'ordinary life')
  const guests: GuestSpell[] = []
  const away: Spell[] = []
  const storms: Spell[] = []
  for (let day = 7; day < days; day += 14) {
    const from = day + random.between(0.4, 3)
    guests.push({ fromDay: from, toDay: from + random.between(1.5, 3), people: 2 + random.below(3) })
    const storm = day + random.between(0, 12)
    storms.push({ fromDay: storm, toDay: storm + random.between(0.8, 2) })
  }
  for (let day = 14; day < days; day += 28) {
    const from = day + random.between(0, 0.8)
    away.push({ fromDay: from, toDay: from + random.between(5, 6.4) })
  }
  return { guests, away, storms, link: { outagesPerDay: 2, outageLongestMin: 360 } }
}
