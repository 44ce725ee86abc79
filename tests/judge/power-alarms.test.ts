import { describe, expect, it } from 'vitest'
import type { SiteSettings } from '../../src/model/settings.js'
import { aSite, bench } from './facts.js'
import { coldCharge, harvest, notFull, sag } from './power-faults.js'

function leadSite(): SiteSettings {
  return { ...aSite(), battery: { chemistry: 'agm', nominalVoltageV: 24, capacityAh: 160 } }
}

describe('battery-sag', () => {
  it('is told when the drop per ampere has grown by more than half, and ends when it has come back', () => {
    const it_ = bench().run(60, sag({ ohm: 0.054 }))
    expect(it_.told).toEqual([])
    it_.run(60, sag({ ohm: 0.057 }))
    expect(it_.keys()).toEqual(['battery-sag:battery'])
    // The limit's other side is no recovery yet.
    it_.run(3_600, sag({ ohm: 0.052 }))
    expect(it_.keys('cleared')).toEqual([])
    it_.run(3_600, sag({ ohm: 0.04 }))
    expect(it_.keys('cleared')).toEqual(['battery-sag:battery'])
  })

  it('is not told of a growth within the spread of this site, nor of one that an unknown cold explains', () => {
    const wide = { usual: { value: 0.037, sd: 0.012, starts: 20 }, sdOhm: 0.009 }
    expect(bench().run(60, sag({ ohm: 0.057, ...wide })).told).toEqual([])
    expect(bench().run(60, sag({ ohm: 0.08, doubt: 1.59, temperatureFrom: null })).told).toEqual([])
  })

  it('is quiet while the site is learned, and goes by its settings', () => {
    const learning = bench().run(60, (facts) => {
      facts.learning = true
      sag()(facts)
    })
    expect(learning.told).toEqual([])
    const patient = aSite({ 'battery-sag': { numbers: { growth: 2 } } })
    expect(bench(patient).run(60, sag({ ohm: 0.07 })).told).toEqual([])
    expect(
      bench(patient)
        .run(60, sag({ ohm: 0.078 }))
        .keys(),
    ).toEqual(['battery-sag:battery'])
  })
})

describe('battery-cold-charge', () => {
  it('is told within 2 min, while learning too, and ends an hour after the charge', () => {
    const it_ = bench().run(150, (facts) => {
      facts.learning = true
      coldCharge()(facts)
    })
    expect(it_.keys()).toEqual(['battery-cold-charge:battery'])
    expect(it_.secondsTo('battery-cold-charge:battery')).toBeLessThanOrEqual(120)
    it_.run(4_200, (facts) => {
      facts.power.chargeA = -0.5
    })
    expect(it_.keys('cleared')).toEqual(['battery-cold-charge:battery'])
  })

  it('says nothing where nothing charges, and is not ended by a thermometer that has gone silent', () => {
    expect(bench().run(600).told).toEqual([])
    const it_ = bench().run(150, coldCharge())
    it_.run(1_800, (facts) => {
      facts.battery.temperatureC = null
    })
    expect(it_.keys('cleared')).toEqual([])
  })
})

describe('battery-not-full', () => {
  it('is told after 5 days for lead-acid, after 14 for lithium', () => {
    expect(bench(leadSite()).run(60, notFull(4)).told).toEqual([])
    expect(bench(leadSite()).run(60, notFull(5)).keys()).toEqual(['battery-not-full:battery'])
    expect(bench().run(60, notFull(13)).told).toEqual([])
    expect(bench().run(60, notFull(14)).keys()).toEqual(['battery-not-full:battery'])
  })

  it('is said beneath a dark array, not told beside it', () => {
    const it_ = bench(leadSite()).run(600, (facts) => {
      harvest()(facts)
      notFull(6)(facts)
    })
    expect(it_.keys()).toEqual(['array-dark:array'])
    const beneath = it_.judge.active(it_.state).find(({ id }) => id === 'battery-not-full')
    expect(beneath?.explainedBy).toBe('array-dark:array')
  })
})

describe('array-dark', () => {
  it('is told at once where nothing comes, and of a little only two hours past noon', () => {
    expect(
      bench()
        .run(60, harvest({ late: false }))
        .keys(),
    ).toEqual(['array-dark:array'])
    expect(bench().run(60, harvest({ late: false, ratio: 0.06 })).told).toEqual([])
    expect(
      bench()
        .run(60, harvest({ ratio: 0.06 }))
        .keys(),
    ).toEqual(['array-dark:array'])
  })

  it('is not told of a dark day such as was seen here, of too few hours, or where nothing measures the panel', () => {
    expect(bench().run(60, harvest({ ratio: 0.06, lowestRatio: 0.1 })).told).toEqual([])
    expect(bench().run(60, harvest({ ratio: 0.08, lowestRatio: null, usualRatio: null, days: 0 })).told).toEqual([])
    expect(bench().run(60, harvest({ clearH: 0.9 })).told).toEqual([])
    // A steep array in winter gets little of the diffuse light of thick cloud.
    expect(bench().run(60, harvest({ ratio: 0.06, cloudRatio: 0.08 })).told).toEqual([])
    expect(bench().run(60).told).toEqual([])
  })

  it('stands through the night and ends when half an hour has brought something', () => {
    const it_ = bench().run(60, harvest())
    const night = harvest({ hours: 0, clearH: 0, ratio: null, recentRatio: null, since: null, voltsShare: null })
    it_.run(12 * 3_600, night)
    expect(it_.keys('cleared')).toEqual([])
    it_.run(1_800, harvest({ ratio: 0.2, recentRatio: 0.5 }))
    expect(it_.keys('cleared')).toEqual(['array-dark:array'])
  })

  it('ends when the battery has become full', () => {
    const it_ = bench().run(60, harvest())
    it_.run(1_800, (facts, at) => {
      harvest({ recentRatio: null })(facts)
      facts.power.lastFullAt = at
    })
    expect(it_.keys('cleared')).toEqual(['array-dark:array'])
  })

  it('names snow first after frost, the fuse first without', () => {
    const causes = (set: Parameters<typeof harvest>[0]) => {
      const it_ = bench().run(60, harvest(set))
      return it_.outcomes.flatMap(({ notices }) => notices.map(({ alarm }) => alarm.words.causes[0]))[0] ?? ''
    }
    expect(causes({ coldestC: -4 })).toMatch(/Snow/)
    expect(causes({ coldestC: 12, voltsShare: 0.01 })).toMatch(/fuse/i)
    expect(causes({ coldestC: 12, voltsShare: 1.2 })).toMatch(/charger/i)
  })
})
