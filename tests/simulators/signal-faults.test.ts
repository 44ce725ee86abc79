/** Sensors, boards and links: what arrives at the broker under each fault. */
import { describe, expect, test } from 'vitest'
import { parseFault, SEVERITIES, type Severity } from '../../simulators/fault.js'
import type { FaultKind } from '../../simulators/fault-table.js'
import type { SiteId } from '../../simulators/plan.js'
import { between, hours, median, START, watch } from './watch.js'

const FROM = START + hours(2)

function under(site: SiteId, kind: FaultKind, severity: Severity, length = 1) {
  return watch({ site, days: length, people: 6, faults: [parseFault(`${kind}:${severity}@2h`, START)] })
}

test('a silent board says nothing while the other goes on', () => {
  for (const [severity, silent, talking] of [
    ['middle', 'tank-level', 'pump-current'],
    ['strong', 'pump-current', 'tank-level'],
  ] as const) {
    const watched = under('juniper', 'board-silent', severity, 0.5)
    expect(between(watched, silent, FROM, START + hours(12))).toEqual([])
    expect(between(watched, talking, FROM, START + hours(12))).toHaveLength(3_600)
  }
  const back = under('juniper', 'board-silent', 'mild', 0.25)
  expect(between(back, 'tank-level', FROM, FROM + hours(0.74))).toEqual([])
  expect(between(back, 'tank-level', FROM + hours(0.76), START + hours(6)).length).toBeGreaterThan(1_000)
})

test('a link that was down brings everything later, in order, and nothing twice', () => {
  const watched = under('juniper', 'site-silent', 'middle', 0.6)
  const arrived = watched.messages.filter(({ at }) => at >= FROM + 1_000 && at < FROM + hours(10))
  expect(arrived).toEqual([])
  const levels = watched.signals.get('tank-level') ?? []
  expect(levels).toHaveLength(0.6 * 8_640)
  expect(levels.every(({ t }, i) => i === 0 || t > (levels[i - 1]?.t ?? 0))).toBe(true)
})

test('a place that went dark has nothing to bring later', () => {
  const watched = under('juniper', 'site-silent', 'strong', 2.5)
  expect(between(watched, 'tank-level', FROM, FROM + hours(48))).toEqual([])
  expect(between(watched, 'tank-level', FROM + hours(48), START + hours(60)).length).toBeGreaterThan(3_000)
})

test('a shuffled backlog has every sample, out of order', () => {
  for (const severity of SEVERITIES) {
    const levels = under('juniper', 'backlog-shuffled', severity, 0.6).signals.get('tank-level') ?? []
    expect(levels).toHaveLength(0.6 * 8_640)
    expect(levels.some(({ t }, i) => i > 0 && t < (levels[i - 1]?.t ?? 0))).toBe(true)
    expect(new Set(levels.map(({ t }) => t)).size).toBe(levels.length)
  }
})

test('boards without a clock send how long ago it was, and the sample times come out as measured', () => {
  const faults = [parseFault('site-silent:mild@2h', START)]
  const told = watch({ site: 'juniper', days: 0.3, faults, link: { clock: 'none' } })
  const known = watch({ site: 'juniper', days: 0.3, faults })
  const a = told.signals.get('tank-level') ?? []
  const b = known.signals.get('tank-level') ?? []
  expect(a).toHaveLength(b.length)
  for (const [i, seen] of a.entries()) {
    expect(seen.value).toBe(b[i]?.value)
    // "Now" is the moment of receipt, up to a second after the measurement.
    expect(Math.abs(seen.t - (b[i]?.t ?? 0))).toBeLessThan(1_001)
  }
  expect(told.messages.some(({ payload }) => /"bt":-\d/.test(payload))).toBe(true)
})

test('a fouled low contact is dry while the high one is wet, and a bridged high one is always wet', () => {
  const share = (severity: Severity) => {
    const watched = under('fern', 'probe-fouled', severity)
    const low = watched.signals.get('tank-probe-low') ?? []
    const high = watched.signals.get('tank-probe-high') ?? []
    const later = low.map(({ t, value }, i) => ({ t, low: value, high: high[i]?.value })).filter(({ t }) => t > FROM)
    return {
      dry: later.filter((each) => each.low === 0).length / later.length,
      wrong: later.filter((each) => each.low === 0 && each.high === 1).length / later.length,
    }
  }
  expect(share('mild').dry).toBeGreaterThan(0.2)
  expect(share('mild').dry).toBeLessThan(0.8)
  expect(share('middle').dry).toBe(1)
  expect(share('middle').wrong).toBeGreaterThan(0.01)
  expect(share('strong').wrong).toBe(1)
})

test('waves make the contacts chatter about the mark for longer than the few seconds of a quiet tank', () => {
  const changes = (severity: Severity | null) => {
    const faults = severity === null ? [] : [parseFault(`contact-chatter:${severity}@2h`, START)]
    const seen = watch({ site: 'fern', days: 1, people: 6, faults }).signals.get('tank-probe-high') ?? []
    return seen.filter(({ value }, i) => i > 0 && value !== seen[i - 1]?.value).length
  }
  expect(changes('strong')).toBeGreaterThan(3 * changes(null))
})

describe('the level sensor', () => {
  test('stuck: one value while the tank fills and empties', () => {
    const watched = under('juniper', 'level-stuck', 'strong')
    expect(new Set(between(watched, 'tank-level', FROM + 20_000, START + hours(24))).size).toBe(1)
    expect(watched.truth.runs.filter(({ start }) => start > FROM).length).toBeGreaterThan(1)
  })

  test('failed: full scale, or no number at all', () => {
    const share = (values: number[]) => values.filter((value) => value === 65_535).length / values.length
    const at = (severity: Severity) => under('juniper', 'level-failed', severity, 0.3)
    expect(share(between(at('mild'), 'tank-level', FROM, START + hours(7)))).toBeCloseTo(0.75, 1)
    expect(share(between(at('middle'), 'tank-level', FROM + 20_000, START + hours(7)))).toBe(1)
    expect(at('strong').unreadable.every((payload) => payload.includes('"v":nan'))).toBe(true)
    expect(at('strong').unreadable.length).toBeGreaterThan(1_000)
  })

  test('spikes: single readings at 0 or the end of the range', () => {
    const shares = SEVERITIES.map((severity) => {
      const values = between(under('juniper', 'level-spikes', severity, 0.5), 'tank-level', FROM, START + hours(12))
      return values.filter((value) => value === 0 || value === 3.999).length / values.length
    })
    expect(shares[0]).toBeCloseTo(0.02, 1)
    expect(shares[1]).toBeCloseTo(0.05, 1)
    expect(shares[2]).toBeCloseTo(0.125, 1)
    expect((shares[0] ?? 1) < (shares[1] ?? 0) && (shares[1] ?? 1) < (shares[2] ?? 0)).toBe(true)
  })

  test('another unit: a hundred times the number, named or not', () => {
    const named = under('juniper', 'unit-slip', 'mild', 0.3)
    const bare = under('juniper', 'unit-slip', 'middle', 0.3)
    const last = (watched: typeof named) =>
      watched.messages.findLast(({ topic }) => topic.endsWith('tank-board'))?.payload
    expect(last(named)).toMatch(/"n":"tank-level","u":"cm","v":\d{2,3}/)
    expect(last(bare)).toMatch(/"n":"tank-level","v":\d{2,3}/)
  })
})

test('a failed thermometer sends 85 now and then, or −127 always', () => {
  const at = (severity: Severity) =>
    between(under('fern', 'thermometer-failed', severity), 'line-temperature', FROM, START + hours(24))
  const mild = at('mild')
  expect(mild.filter((value) => value === 85).length / mild.length).toBeCloseTo(0.05, 1)
  expect(mild.filter((value) => value === 85).length).toBeGreaterThan(10)
  expect(
    at('middle')
      .slice(1)
      .every((value) => value === -127),
  ).toBe(true)
})

test('spoilt messages are of every kind, in the share that was asked for', () => {
  const watched = under('juniper', 'bad-payloads', 'middle')
  const later = watched.messages.filter(({ at }) => at > FROM)
  const share = watched.unreadable.length / later.length
  // One in eight is spoilt; one kind of five keeps its form and has a wrong unit.
  expect(share).toBeGreaterThan(0.07)
  expect(share).toBeLessThan(0.13)
  expect(watched.unreadable).toContain('')
  expect(watched.unreadable.some((payload) => payload.includes('nan'))).toBe(true)
  expect(watched.unreadable.some((payload) => payload.includes('\u0000'))).toBe(true)
  expect(later.some(({ payload }) => payload.includes('"u":"lx"'))).toBe(true)
  const one = under('juniper', 'bad-payloads', 'strong', 0.2).messages.filter(({ at }) => at > FROM + 20_000)
  expect(
    one.filter(({ topic }) => topic.endsWith('pump-board')).every(({ payload }) => payload.includes('pump-current')),
  ).toBe(true)
})

test('repeated deliveries carry the very same message', () => {
  const watched = under('juniper', 'repeated-deliveries', 'strong', 0.3)
  const times = new Map<string, number>()
  for (const { at, payload } of watched.messages)
    if (at > FROM + 60_000) times.set(payload, (times.get(payload) ?? 0) + 1)
  expect(median([...times.values()])).toBe(4)
  expect(watched.messages.every(({ at }, i) => i === 0 || at >= (watched.messages[i - 1]?.at ?? 0))).toBe(true)
})

test('a lost clock says 1970, 2036-02-07, or nine days ahead, and only that board does', () => {
  const stamps = (severity: Severity, board: string) =>
    under('juniper', 'clock-unset', severity, 0.15)
      .messages.filter(({ at, topic }) => at > FROM + 20_000 && topic.endsWith(board))
      .map(({ at, payload }) => ({ at, stamp: Number(/"bt":([\d.]+)/.exec(payload)?.[1]) }))
  expect(stamps('mild', 'pump-board').every(({ stamp }) => stamp < 86_400)).toBe(true)
  expect(
    stamps('middle', 'pump-board').every(({ stamp }) => new Date(stamp * 1_000).toISOString().startsWith('2036-02-07')),
  ).toBe(true)
  expect(stamps('strong', 'pump-board').every(({ at, stamp }) => Math.abs(stamp - at / 1_000 - 9 * 86_400) < 2)).toBe(
    true,
  )
  expect(stamps('strong', 'tank-board').every(({ at, stamp }) => Math.abs(stamp - at / 1_000) < 2)).toBe(true)
})

test('the zero of the current sensor wanders while the pump rests as ever', () => {
  const idle = (severity: Severity) => {
    const watched = watch({
      site: 'juniper',
      days: 1,
      people: 0,
      faults: [parseFault(`current-drift:${severity}@2h`, START)],
    })
    return (
      median(between(watched, 'pump-current', START + hours(23), START + hours(24))) -
      median(between(watched, 'pump-current', START + hours(1), START + hours(2)))
    )
  }
  expect(idle('mild')).toBeCloseTo(0.15, 1)
  expect(idle('middle')).toBeCloseTo(0.35, 1)
  expect(idle('strong')).toBeCloseTo(0.6, 1)
})

test('a board that browns out misses the beginning of each run and nothing else', () => {
  const watched = under('juniper', 'board-browns-out', 'middle')
  const runs = watched.truth.runs.filter(({ start }) => start > FROM)
  expect(runs.length).toBeGreaterThan(1)
  for (const { start, end } of runs) {
    expect(between(watched, 'pump-current', start, start + 39_000)).toEqual([])
    expect(between(watched, 'pump-current', start + 50_000, end).length).toBeGreaterThan(100)
    expect(between(watched, 'tank-level', start, start + 40_000).length).toBeGreaterThan(2)
  }
})

test('a dead current sensor shows nothing while the voltage sags and the water rises', () => {
  const watched = under('fern', 'current-dead', 'strong')
  const run = watched.truth.runs.find(({ start }) => start > FROM)
  expect(run?.deliveredL).toBeGreaterThan(100)
  const during = median(between(watched, 'pump-current', run?.start ?? 0, run?.end ?? 0))
  expect(Math.abs(during)).toBeLessThan(0.15)
})

test('a voltage sensor that has come off gives 0 V from a board that lives', () => {
  const watched = under('fern', 'voltage-dead', 'strong', 0.3)
  expect(new Set(between(watched, 'battery-voltage', FROM + 10_000, START + hours(7)))).toEqual(new Set([0]))
  expect(between(watched, 'pump-current', FROM, START + hours(7)).length).toBeGreaterThan(1_000)
})
