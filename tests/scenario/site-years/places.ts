/** Ten places that live a year without any fault: whatever is told of them has to be true. */
import { ordinaryLife } from '../../../simulators/ordinary.js'
import type { SiteId } from '../../../simulators/plan.js'
import type { Spell } from '../../../simulators/household.js'
import type { SimulateOptions } from '../../../simulators/simulate.js'
import type { SiteSettings } from '../../../src/model/settings.js'
import { DAY, HOUR, type Ms } from '../../../src/model/time.js'

type Life = Omit<SimulateOptions, 'site' | 'seed' | 'startMs' | 'days'>

export type Place = {
  readonly id: string
  /** For docs/site-years.md. */
  readonly words: string
  readonly site: SiteId
  /** Month (0–11) in which its year begins; its first weeks lie in that season. */
  readonly month: number
  readonly life: (seed: number, days: number, startMs: Ms) => Life
  readonly settings: (site: SiteSettings) => SiteSettings
  /** In these months (0–11) people have drained the place and said so. */
  readonly winterizedMonths?: readonly number[]
}

const asItIs = (site: SiteSettings): SiteSettings => site

function standsEmpty(site: SiteSettings): SiteSettings {
  return { ...site, away: { ...site.away, usual: 'away' } }
}

function withoutLink({ guests, away, storms }: ReturnType<typeof ordinaryLife>): Life {
  return { guests, away, storms }
}

/** From Sunday evening to Friday evening nobody is there. */
function weekdays(days: number, startMs: Ms): readonly Spell[] {
  const spells: Spell[] = []
  for (let day = 0; day < days; day++) {
    if (new Date(startMs + day * DAY).getUTCDay() === 0) spells.push({ fromDay: day + 0.75, toDay: day + 5.75 })
  }
  return [{ fromDay: 0, toDay: spells[0]?.fromDay === undefined ? 0 : Math.max(0, spells[0].fromDay - 2) }, ...spells]
}

/** Nobody but for four days of two people in June and in September. */
function twoVisits(days: number, startMs: Ms) {
  const guests = []
  for (let day = 0; day < days; day++) {
    const date = new Date(startMs + day * DAY)
    if ((date.getUTCMonth() === 5 || date.getUTCMonth() === 8) && date.getUTCDate() === 12) {
      guests.push({ fromDay: day + 0.5, toDay: day + 4.5, people: 2 })
    }
  }
  return { people: 0, guests }
}

function noisyLevel(site: SiteSettings): SiteSettings {
  return {
    ...site,
    boards: site.boards.map((board) => ({
      ...board,
      signals: board.signals.map((signal) => (signal.role === 'tank-level' ? { ...signal, sd: 0.02 } : signal)),
    })),
  }
}

export const PLACES: readonly Place[] = [
  {
    id: 'occupied',
    words: 'two people, the whole year; storms',
    site: 'juniper',
    month: 0,
    life: (seed, days) => ({ storms: ordinaryLife(seed, days).storms }),
    settings: asItIs,
  },
  {
    id: 'weekend',
    words: 'two people from Friday to Sunday evening, of which nobody told the program',
    site: 'juniper',
    month: 3,
    life: (seed, days, startMs) => ({ storms: ordinaryLife(seed, days).storms, away: weekdays(days, startMs) }),
    settings: asItIs,
  },
  {
    id: 'empty',
    words: 'stands empty but for two visits, which the calendar does not list',
    site: 'juniper',
    month: 9,
    life: (_, days, startMs) => twoVisits(days, startMs),
    settings: standsEmpty,
  },
  {
    id: 'poor-link',
    words: 'link outages twice a day, up to 6 h; boards without a clock keep a backlog; guests, empty weeks, storms',
    site: 'juniper',
    month: 5,
    life: (seed, days) => {
      const life = ordinaryLife(seed, days)
      return { ...life, link: { ...life.link, clock: 'none' } }
    },
    settings: asItIs,
  },
  {
    id: 'slow-well',
    words: 'the well gives less than the pump takes, and is drawn down in every fill',
    site: 'juniper',
    month: 2,
    life: (seed, days) => ({ storms: ordinaryLife(seed, days).storms, change: { inflowLMinPerM: 0.14, staticM: 8 } }),
    settings: asItIs,
  },
  {
    id: 'ultrasonic',
    words: 'an uncompensated ultrasonic level sensor with 8 mm of noise, whose reading swings by 3 cm a day',
    site: 'juniper',
    month: 6,
    life: (seed, days) => ({ ...withoutLink(ordinaryLife(seed, days)), levelSensor: 'ultrasonic', levelNoiseM: 0.008 }),
    settings: noisyLevel,
  },
  {
    id: 'curtailed',
    words: 'an array three times as large as needed: the battery is full by mid-morning and holds it back',
    site: 'juniper',
    month: 10,
    life: (seed, days) => ({ ...withoutLink(ordinaryLife(seed, days)), change: { arrayRatedW: 1_320 } }),
    settings: (site) => (site.array === null ? site : { ...site, array: { ...site.array, ratedW: 1_320 } }),
  },
  {
    id: 'guests',
    words: 'four people and two to four guests each fortnight; empty weeks, storms, link outages',
    site: 'juniper',
    month: 7,
    life: (seed, days) => ({ ...ordinaryLife(seed, days), people: 4 }),
    settings: asItIs,
  },
  {
    id: 'probes',
    words: 'probes only, two people; guests, empty weeks, storms, link outages',
    site: 'fern',
    month: 4,
    life: (seed, days) => ordinaryLife(seed, days),
    settings: asItIs,
  },
  {
    id: 'winterized',
    words: 'probes only, a summer place: weekends, drained and said to be from November to April',
    site: 'fern',
    month: 8,
    life: (_, days, startMs) => ({ away: drained(days, startMs) }),
    settings: asItIs,
    winterizedMonths: [10, 11, 0, 1, 2, 3],
  },
]

/** Weekdays of the summer, and the whole of the winter. */
function drained(days: number, startMs: Ms): readonly Spell[] {
  const winter: Spell[] = []
  for (let day = 0; day < days; day++) {
    const month = new Date(startMs + day * DAY - 12 * HOUR).getUTCMonth()
    if (month >= 10 || month <= 3) winter.push({ fromDay: day, toDay: day + 1 })
  }
  return [...weekdays(days, startMs), ...winter]
}
