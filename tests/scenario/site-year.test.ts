/**
 * Ordinary days at places where false alarms are likeliest; whole years of ten places are in docs/site-years.md, made by
 * `npm run site-years -- --write`.
 */
import { describe, expect, it } from 'vitest'
import { ordinaryLife } from '../../simulators/ordinary.js'
import { SITE_IDS } from '../../simulators/plan.js'
import { PLACES, type Place } from './site-years/places.js'
import { falseTold, FIRST_DAYS, runPlace } from './site-years/run-place.js'

const noClock = (): number => 0

function told(list: readonly { readonly at: string; readonly priority: string; readonly what: string }[]) {
  return list.map(({ at, priority, what }) => `${at} ${priority} ${what}`)
}

describe('sixty ordinary days, with guests, empty weeks, storms and link outages', () => {
  it.each(SITE_IDS)(
    'after the first week, tell nothing of high or critical priority at %s, and at most two others',
    async (site) => {
      const place: Place = {
        id: 'ordinary',
        words: '',
        site,
        month: 4,
        life: (seed, days) => ordinaryLife(seed, days),
        settings: (settings) => settings,
      }
      const year = await runPlace(place, 1, 60, noClock)
      expect(year.samples).toBeGreaterThan(2_000_000)
      const later = year.told.filter((one) => !one.firstWeek)
      expect(told(later.filter(({ priority }) => priority === 'critical' || priority === 'high'))).toEqual([])
      expect(told(later).slice(2)).toEqual([])
    },
    60_000,
  )
})

describe('three weeks without a fault', () => {
  it.each(['slow-well', 'ultrasonic', 'poor-link'])(
    'at the place "%s" tell nothing false of medium priority or above after the first',
    async (id) => {
      const place = PLACES.find((one) => one.id === id)
      if (place === undefined) throw new Error(`no place is called ${id}`)
      const year = await runPlace(place, 2, 3 * FIRST_DAYS, noClock)
      expect(year.fills).toBeGreaterThan(5)
      expect(told(falseTold(year, 'medium'))).toEqual([])
    },
    60_000,
  )
})
