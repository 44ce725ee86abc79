import { describe, expect, it } from 'vitest'
import type { HouseFacts } from '../../src/model/facts-house.js'
import type { Facts } from '../../src/model/facts.js'
import { bench, START } from './facts.js'

const MINUTE = 60_000
const KEY = 'house-pump-cycling:house-pump'

function house(set: (at: number) => Partial<HouseFacts>) {
  return (facts: Facts, at: number): void => {
    Object.assign(facts.house, { known: true, running: false, currentA: 0, pressurePa: 200_000 }, set(at))
  }
}

const learned = { usualRunS: 50, usualLongestRunS: 140, usualPauseS: 180, usualBusyHour: 5, usualA: 4.3 }

describe('a pressure pump that starts far too often', () => {
  it('is told for many short runs, with and without what is usual', () => {
    const often = { startsIn30Min: 11, meanRunS: 12, firstStart: START, pauseS: 40, shortestRunS: 5 }
    expect(
      bench()
        .run(
          300,
          house(() => often),
        )
        .keys(),
    ).toEqual([KEY])
    expect(
      bench()
        .run(
          300,
          house(() => ({ ...often, ...learned })),
        )
        .keys(),
    ).toEqual([KEY])
  })

  it('is told by pauses that are far too short where runs between samples make the others look long', () => {
    const alias = { startsIn30Min: 11, meanRunS: 29, firstStart: START, pauseS: 43, shortestRunS: 5, ...learned }
    expect(
      bench()
        .run(
          300,
          house(() => alias),
        )
        .keys(),
    ).toEqual([KEY])
  })

  it('is not a long shower, a house full of guests, nor a pump that has always been quick', () => {
    const shower = { startsIn30Min: 11, meanRunS: 90, firstStart: START, pauseS: 160, shortestRunS: 45, ...learned }
    expect(
      bench().run(
        3_000,
        house(() => shower),
      ).told,
    ).toEqual([])
    const quick = { startsIn30Min: 11, meanRunS: 14, firstStart: START, pauseS: 60, shortestRunS: 12 }
    const usual = { usualRunS: 20, usualPauseS: 60, usualBusyHour: 24 }
    expect(
      bench().run(
        3_000,
        house(() => ({ ...quick, ...usual })),
      ).told,
    ).toEqual([])
  })

  it('stands between the hours of use, until runs are long again', () => {
    const it_ = bench().run(
      300,
      house(() => ({ startsIn30Min: 11, meanRunS: 12, firstStart: START, shortestRunS: 5, ...learned })),
    )
    it_.run(
      4 * 3_600,
      house(() => ({ shortestRunS: 5, ...learned })),
    )
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised'])
    it_.run(
      3 * 3_600,
      house(() => ({ shortestRunS: 41, ...learned })),
    )
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
  })

  it('is told for starts like clockwork that have gone on for 20 min', () => {
    const regular = { since: START, count: 12, intervalS: 150, spreadS: 5, runS: 15 }
    const it_ = bench().run(
      3_000,
      house(() => ({ regular, ...learned })),
    )
    expect(it_.keys()).toEqual([KEY])
    expect(it_.secondsTo(KEY)).toBeGreaterThanOrEqual(1_200)
    expect(it_.secondsTo(KEY)).toBeLessThan(1_800)
  })
})

describe('a pressure pump that never stops', () => {
  const runs = (more: Partial<HouseFacts>) =>
    house(() => ({ running: true, runningSince: START, currentA: 4.2, ...learned, ...more }))

  it('is told within 12 min where the pressure is gone, and within 30 min where it is not measured', () => {
    const low = bench().run(3_000, runs({ pressurePa: 15_000, lowSince: START }))
    expect(low.secondsTo(KEY)).toBeLessThanOrEqual(720)
    expect(low.outcomes.flatMap(({ notices }) => notices)[0]?.alarm.cause).toBe('no-pressure')
    const blind = bench().run(3_000, runs({ pressurePa: null }))
    expect(blind.secondsTo(KEY)).toBeGreaterThanOrEqual(1_500)
    expect(blind.secondsTo(KEY)).toBeLessThanOrEqual(1_800)
  })

  it('is told at once as dry where it draws lightly and the pressure is not measured', () => {
    const it_ = bench().run(3_000, runs({ pressurePa: null, currentA: 2 }))
    expect(it_.outcomes.flatMap(({ notices }) => notices)[0]?.alarm.cause).toBe('no-pressure')
    expect(it_.secondsTo(KEY)).toBeLessThanOrEqual(720)
  })

  it('may run for two hours while the pressure serves: somebody waters', () => {
    expect(bench().run(7_000, runs({ pressurePa: 170_000 })).told).toEqual([])
    expect(
      bench()
        .run(8_000, runs({ pressurePa: 170_000 }))
        .keys(),
    ).toEqual([KEY])
  })

  it('is told where the pressure stands far above its usual end', () => {
    const it_ = bench().run(1_000, runs({ pressurePa: 420_000, highSince: START }))
    expect(it_.outcomes.flatMap(({ notices }) => notices)[0]?.alarm.cause).toBe('over-pressure')
  })

  it('is no fault of the pump when it rests without pressure, and a drained house has none', () => {
    const rests = house(() => ({ running: false, pressurePa: 0, lowSince: START, ...learned }))
    expect(bench().run(3_000, rests).told).toEqual([])
    const blind = house(() => ({ running: null, currentA: null, pressurePa: 0, lowSince: START, ...learned }))
    const drained = bench()
    drained.modes = { ...drained.modes, winterized: true }
    expect(drained.run(3_000, blind).told).toEqual([])
    expect(bench().run(3_000, blind).keys()).toEqual([KEY])
  })

  it('is shown beneath an empty tank', () => {
    const it_ = bench().run(3_000, (facts, at) => {
      Object.assign(facts.water, { volumeL: 10 })
      if (at >= START + 5 * MINUTE)
        house(() => ({ running: true, runningSince: START + 5 * MINUTE, lowSince: START + 5 * MINUTE, pressurePa: 0 }))(
          facts,
          at,
        )
    })
    expect(it_.keys()).toEqual(['tank-low:tank'])
  })
})
