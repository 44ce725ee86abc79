/** A made-up cold evening for the tests of the page. */
import type { ColdFacts } from '../../src/model/facts-cold.js'
import { HOUR, type Ms } from '../../src/model/time.js'

export function aColdEvening(now: Ms): ColdFacts {
  return {
    tonight: {
      source: 'air-temperature',
      sunset: now + 3 * HOUR,
      sunrise: now + 16.5 * HOUR,
      method: 'own',
      expectedMinC: -6.4,
      sdC: 1.7,
      evening: true,
      t0C: 1.2,
      dewPointC: -5.1,
      fallC: 3.1,
      sky: 'clear',
      course: Array.from({ length: 8 }, (_, i) => ({ at: now + 2 * i * HOUR, c: 4 - 1.4 * i, sdC: 0.3 + 0.2 * i })),
    },
    noTonight: null,
    methods: [
      { method: 'own', nights: 31, rmsC: 1.6, biasC: 0.1 },
      { method: 'general', nights: 31, rmsC: 2.4, biasC: -0.6 },
      { method: 'forecast', nights: 0, rmsC: null, biasC: null },
      { method: 'persistence', nights: 30, rmsC: 3.3, biasC: 0 },
    ],
    ownNights: 31,
    frost: {
      since: '2025-08-01',
      days: 187,
      indexCd: 96,
      seasonIndexCd: 110,
      depthM: 0.41,
      shallowM: 0.35,
      deepM: 0.49,
      fortnightM: 0.5,
      course: [
        { date: '2026-01-06', depthM: 0.22 },
        { date: '2026-01-13', depthM: 0.33 },
        { date: '2026-02-02', depthM: 0.41 },
      ],
    },
    battery: { kind: 'lithium', expectedMinC: -1.5, chargeRefused: true },
    hardFrostOn: '2025-10-19',
    closing: { known: true, from: '2025-10-04', to: '2025-10-21', nights: 210, spanDays: 240 },
    opening: { known: false, nights: 40, neededNights: 120 },
  }
}
