/** Tank, battery, weather: each fault shows its row of the diagnosis table (common practice ranges). */
import { describe, expect, test } from 'vitest'
import { parseFault, SEVERITIES, type Severity } from '../../simulators/fault.js'
import { planOf, SITE_IDS } from '../../simulators/plan.js'
import { between, days, hours, median, START, truthOf, watch } from './watch.js'

const cases = SITE_IDS.flatMap((site) => SEVERITIES.map((severity) => [site, severity] as const))

describe.each(cases)('at %s, %s', (site, severity) => {
  test('more drawn than pumped: the level falls through the reserve while the pump runs', () => {
    const truth = truthOf({ site, days: 0.7, faults: [parseFault(`tank-low:${severity}@6h`, START)] })
    const below = truth.marks.find(({ what }) => what === 'below-reserve')
    expect(below).toBeDefined()
    expect(truth.runs.some((run) => run.start < (below?.at ?? 0) && run.end > (below?.at ?? 0))).toBe(true)
  })

  test('a leak: the tank loses its litres an hour, day and night, nobody there', () => {
    const truth = truthOf({
      site,
      days: 1,
      people: 0,
      faults: [parseFault(`leak:${severity}@6h`, START)],
    })
    const litresAnHour = truth.balance.leakedL / 18
    const nominal = { mild: 4, middle: 15, strong: 120 }[severity]
    // The rate goes with the root of the head, which moves within the band between the marks.
    expect(litresAnHour).toBeGreaterThan(0.9 * nominal)
    expect(litresAnHour).toBeLessThan(1.2 * nominal)
    expect(truth.balance.usedL).toBe(0)
  })
})

describe.each(SITE_IDS)('the battery at %s', (site) => {
  test.each([
    ['mild', 8],
    ['middle', 7],
    ['strong', 2],
  ] as const)(
    '%s: it sinks until the cut-off stops the pump, and the pump stays off until it has come back',
    (severity, length) => {
      const truth = truthOf({ site, days: length, faults: [parseFault(`battery-low:${severity}@6h`, START)] })
      const cut = truth.marks.find(({ what }) => what === 'cut-off')?.at ?? Number.NaN
      const back =
        truth.marks.find(({ what, at }) => what === 'reconnected' && at > cut)?.at ?? Number.POSITIVE_INFINITY
      expect(cut).toBeGreaterThan(START + hours(6))
      const nominal = planOf(site).battery.nominalV / 12
      expect(Math.min(...truth.days.map((day) => day.batteryMinV))).toBeLessThan(12.01 * nominal)
      expect(truth.runs.filter((run) => run.end > cut + 1_000 && run.start < back)).toEqual([])
    },
  )

  test('old: the drop at each start of the pump grows in proportion to the resistance', () => {
    const drop = (severity: Severity | null) => {
      const faults = severity === null ? [] : [parseFault(`battery-ageing:${severity}@0h`, START)]
      const watched = watch({ site, days: 1.2, people: 6, faults })
      const drops = watched.truth.runs.map(
        ({ start }) =>
          median(between(watched, 'battery-voltage', start - 60_000, start)) -
          median(between(watched, 'battery-voltage', start + 1_000, start + 40_000)),
      )
      return Math.max(...drops)
    }
    expect(drop('strong')).toBeGreaterThan(3 * drop(null))
  })
})

test('dark panels: no current by day, though the battery is not full', () => {
  const noon = START + days(1) + hours(13)
  const dark = watch({ site: 'juniper', days: 1.7, faults: [parseFault('array-dark:strong@6h', START)] })
  expect(Math.max(...between(dark, 'panel-current', noon - hours(3), noon))).toBeLessThan(0.1)
  const well = watch({ site: 'juniper', days: 1.7 })
  expect(Math.max(...between(well, 'panel-current', noon - hours(3), noon))).toBeGreaterThan(0.4)
})
