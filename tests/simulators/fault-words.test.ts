import { expect, test } from 'vitest'
import { NO_EFFECTS } from '../../simulators/effects.js'
import { endOf, FaultList, parseFault, SEVERITIES, WrongWords } from '../../simulators/fault.js'
import { FAULT_KINDS, FAULTS } from '../../simulators/fault-table.js'
import { ALARM_IDS } from '../../src/model/alarm.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'

const START = 1_000_000 * 1_000

test('a fault is read with its severity, its beginning and how long it lasts', () => {
  expect(parseFault('dry-well:middle@12d6h', START)).toEqual({
    kind: 'dry-well',
    severity: 'middle',
    startMs: START + 12 * DAY + 6 * HOUR,
    endMs: null,
  })
  const leak = parseFault('leak:strong@1.5d+2h30m', START)
  expect(leak.startMs).toBe(START + 1.5 * DAY)
  expect(endOf(leak)).toBe(START + 1.5 * DAY + 2 * HOUR + 30 * MINUTE)
  expect(parseFault('no-start@3h', START).severity).toBe('middle')
  expect(endOf(parseFault('no-start:mild@3h', START))).toBe(START + 15 * HOUR)
  expect(endOf(parseFault('no-start:strong@3h', START))).toBe(Number.POSITIVE_INFINITY)
})

test.each([
  ['dry-well', 'expected KIND:SEVERITY@WHEN'],
  ['dry-well:middle', 'expected KIND:SEVERITY@WHEN'],
  ['wet-well:middle@1d', 'known: dry-well'],
  ['dry-well:awful@1d', 'known: mild, middle, strong'],
  ['dry-well:mild@12', 'is no span of time'],
  ['dry-well:mild@1d+', 'expected KIND:SEVERITY@WHEN'],
  ['dry-well:mild@h', 'is no span of time'],
])('"%s" is refused with what was expected', (words, message) => {
  expect(() => parseFault(words, START)).toThrow(WrongWords)
  expect(() => parseFault(words, START)).toThrow(message)
})

test('a fault that a site cannot have is refused', () => {
  expect(() => new FaultList([parseFault('probe-fouled:mild@1d', START)], 'juniper')).toThrow('it can at: fern')
  expect(() => new FaultList([parseFault('level-stuck:mild@1d', START)], 'fern')).toThrow('it can at: juniper')
})

test('every fault has three severities that change something, a site, and a known alarm or none', () => {
  for (const kind of FAULT_KINDS) {
    const { expects, sites, levels, words } = FAULTS[kind]
    expect(words.length).toBeGreaterThan(10)
    expect(sites.length).toBeGreaterThan(0)
    if (expects !== null) expect(ALARM_IDS).toContain(expects)
    for (const severity of SEVERITIES) {
      const changed = Object.entries(levels[severity].set).filter(
        ([name, value]) => !Object.is(value, NO_EFFECTS[name as keyof typeof NO_EFFECTS]),
      )
      expect([kind, severity, changed.length > 0]).toEqual([kind, severity, true])
    }
    const said = SEVERITIES.map((severity) => JSON.stringify([levels[severity].set, levels[severity].lastsH]))
    expect(new Set(said).size).toBe(3)
  }
})

test('effects hold only from the beginning to the end, and grow where the fault is slow', () => {
  const list = new FaultList(
    [parseFault('current-drift:mild@1d+2d', START), parseFault('leak:mild@2d', START)],
    'juniper',
  )
  const at = (hours: number) => ({ ...list.refresh(START + hours * HOUR) })
  expect(at(23)).toEqual(NO_EFFECTS)
  expect(at(34).currentZeroA).toBeCloseTo(0.075, 9)
  expect(at(44).currentZeroA).toBeCloseTo(0.15, 9)
  expect(at(60)).toEqual({ ...NO_EFFECTS, currentZeroA: 0.15, leakLH: 4 })
  expect(at(73)).toEqual({ ...NO_EFFECTS, leakLH: 4 })
})
