/** Thirty ordinary days at both example sites: every fill found, none invented, figures right and honestly doubted. */
import { describe, expect, it } from 'vitest'
import { simulate } from '../../simulators/simulate.js'
import type { SiteId } from '../../simulators/plan.js'
import type { TrueRun } from '../../simulators/truth.js'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { atLeast, type Notice } from '../../src/model/alarm.js'
import type { Day, Figure, FillCycle } from '../../src/model/fill.js'
import type { Arrival } from '../../src/model/sample.js'
import { MINUTE } from '../../src/model/time.js'
import { median } from '../../src/infer/stats.js'
import { openStore } from '../../src/record/store.js'
import { settingsOf } from './detection/run-case.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
/** Midnight at both sites' start of May, without frost. */
const START = Date.UTC(2026, 4, 4, 7)
const DAYS = 30

type Month = {
  readonly cycles: readonly FillCycle[]
  readonly days: readonly Day[]
  readonly runs: readonly TrueRun[]
  readonly notices: readonly Notice[]
  readonly usedTruth: ReadonlyMap<string, number>
}

async function month(site: SiteId, seed: number): Promise<Month> {
  const settings = settingsOf(site)
  const store = openStore({ file: ':memory:', now: 0 })
  const notices: Notice[] = []
  const line = new Line({
    sites: [settings],
    store,
    log: LOG,
    judging: true,
    link: () => null,
    events: { onNotices: (_, said) => notices.push(...said) },
  })
  const simulation = simulate({ site, seed, startMs: START, days: DAYS })
  const arrivals = function* (): Generator<Arrival> {
    for (const { at, topic, payload } of simulation.messages)
      yield { at, topic, payload: Buffer.from(payload), retain: false }
  }
  await drive(line, arrivals())
  const found = {
    cycles: store.cycles.list(site, 0, Number.MAX_SAFE_INTEGER, 10_000),
    days: store.days.list(site, '0000', '9999'),
    runs: simulation.truth.runs,
    notices,
    usedTruth: new Map(simulation.truth.days.map((day) => [day.date, day.usedL])),
  }
  store.close()
  return found
}

/** The cycle of each true run that had ended a while before the end of the month. */
function matched({ cycles, runs }: Month): { run: TrueRun; cycle: FillCycle | undefined }[] {
  const end = START + DAYS * 86_400_000 - 5 * MINUTE
  return runs
    .filter((run) => run.end < end && run.endReason !== 'unknown')
    .map((run) => ({ run, cycle: cycles.find((cycle) => Math.abs(cycle.start - run.start) < MINUTE) }))
}

function errors(pairs: readonly { truth: number; figure: Figure }[]): { median: number; within2sd: number } {
  return {
    median: median(pairs.map(({ truth, figure }) => Math.abs(figure.value / truth - 1))),
    within2sd:
      pairs.filter(({ truth, figure }) => Math.abs(figure.value - truth) <= 2 * figure.sd).length / pairs.length,
  }
}

describe.each(['juniper', 'fern'] as const)('thirty ordinary days at %s', (site) => {
  const months = Promise.all([1, 2].map((seed) => month(site, seed)))

  it('find every fill, at its time, and invent none', async () => {
    for (const found of await months) {
      const pairs = matched(found)
      expect(pairs.filter(({ cycle }) => cycle === undefined)).toEqual([])
      expect(found.cycles.length - pairs.length).toBeLessThanOrEqual(1)
      expect(pairs.length).toBeGreaterThan(20)
      for (const { run, cycle } of pairs) {
        expect(Math.abs((cycle?.end ?? 0) - run.end)).toBeLessThan(15_000)
        expect(cycle?.endReason).toBe('full')
      }
    }
  })

  it('give the delivered volume within 3 % in the median, truth within 2 sd in nine fills of ten', async () => {
    const pairs = (await months).flatMap((found) =>
      matched(found).flatMap(({ run, cycle }) =>
        cycle?.volumeL ? [{ truth: run.deliveredL, figure: cycle.volumeL }] : [],
      ),
    )
    expect(pairs.length).toBeGreaterThan(site === 'juniper' ? 50 : 30)
    const { median: error, within2sd } = errors(pairs)
    expect(error).toBeLessThan(0.03)
    expect(within2sd).toBeGreaterThanOrEqual(0.9)
  })

  it('give the energy within 2 % in the median, truth within 2 sd in nine fills of ten', async () => {
    const pairs = (await months).flatMap((found) =>
      matched(found).flatMap(({ run, cycle }) =>
        cycle?.energyWh ? [{ truth: run.energyBatteryWh, figure: cycle.energyWh }] : [],
      ),
    )
    expect(pairs.length).toBeGreaterThan(45)
    const { median: error, within2sd } = errors(pairs)
    expect(error).toBeLessThan(0.02)
    expect(within2sd).toBeGreaterThanOrEqual(0.9)
  })

  it('balance the water of whole days: what was used is near the truth, unknown where it cannot be known', async () => {
    const known = (await months).flatMap((found) =>
      found.days.slice(1, -1).flatMap((day) => {
        const truth = found.usedTruth.get(day.date)
        return day.usedL === null || truth === undefined ? [] : [{ truth, figure: day.usedL }]
      }),
    )
    expect(known.length).toBeGreaterThan(site === 'juniper' ? 50 : 15)
    const sums = known.reduce((sum, one) => ({ truth: sum.truth + one.truth, used: sum.used + one.figure.value }), {
      truth: 0,
      used: 0,
    })
    expect(Math.abs(sums.used / sums.truth - 1)).toBeLessThan(0.05)
  })

  it('raise no alarm of medium priority or higher', async () => {
    for (const { notices } of await months) {
      expect(notices.filter((notice) => atLeast(notice.alarm.priority, 'medium')).map((one) => one.alarm.key)).toEqual(
        [],
      )
    }
  })
})
