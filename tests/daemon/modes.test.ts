import { describe, expect, it } from 'vitest'
import { modesAt } from '../../src/daemon/modes.js'
import type { SiteSettings } from '../../src/model/settings.js'
import { settingsOf } from '../scenario/detection/run-case.js'

const NOTHING = { away: null, winterized: null, maintenanceUntil: null }
const listed = [100, 200] as const

function place(usual: 'home' | 'away'): SiteSettings {
  return { ...settingsOf('juniper'), away: { usual, calendar: [listed] } }
}

describe('whether somebody is there', () => {
  it('follows the calendar: it lists absences from a home, and visits to a place that mostly stands empty', () => {
    const away = (usual: 'home' | 'away', at: number): boolean => modesAt(place(usual), NOTHING, null, at).away
    expect([99, 100, 199, 200].map((at) => away('home', at))).toEqual([false, true, true, false])
    expect([99, 100, 199, 200].map((at) => away('away', at))).toEqual([true, false, false, true])
  })

  it('is known better by the signal, and best by people', () => {
    expect(modesAt(place('away'), NOTHING, true, 0).away).toBe(false)
    expect(modesAt(place('home'), NOTHING, false, 0).away).toBe(true)
    expect(modesAt(place('home'), { ...NOTHING, away: false }, false, 150).away).toBe(false)
    expect(modesAt(place('away'), { ...NOTHING, away: true }, true, 150).away).toBe(true)
  })
})
