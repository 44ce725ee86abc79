/** Leaks at Juniper Bench, with a quiet sensor of the level and with an ultrasonic one that follows the air. */
import { describe, expect, it } from 'vitest'
import { learn, live, type Told } from './place.js'

const leaks = (told: readonly Told[]) => told.filter(({ notice }) => notice.alarm.id === 'leak')
const firstHours = (told: readonly Told[]) => leaks(told)[0]?.hours ?? Number.POSITIVE_INFINITY

const pressure = learn({ level: 'pressure', seed: 1, garden: { timesAWeek: 5, flowLMin: 7, minutes: 20 } })
const ultrasonic = learn({ level: 'ultrasonic', seed: 2 })

describe('with a quiet level sensor', () => {
  it('4 l/h in an empty place is told within 6 h, urgently, with its rate', async () => {
    const told = await live(await pressure, { days: 1.4, empty: true, fault: { words: 'leak:mild', afterH: 26 } })
    expect(firstHours(told)).toBeGreaterThan(0)
    expect(firstHours(told)).toBeLessThanOrEqual(6)
    const alarm = leaks(told)[0]?.notice.alarm
    expect(alarm?.priority).toBe('high')
    // The leak is 4 l/h at the low mark and a little more above it.
    expect(alarm?.evidence[0]?.value).toBeGreaterThan(3)
    expect(alarm?.evidence[0]?.value).toBeLessThan(5.5)
  })

  it('a running toilet in an occupied house is told in the night', async () => {
    const told = await live(await pressure, { days: 1.3, fault: { words: 'toilet-runs:middle', afterH: 12 } })
    // It began at noon; the quiet hours end at five.
    expect(firstHours(told)).toBeGreaterThan(12)
    expect(firstHours(told)).toBeLessThanOrEqual(17.2)
    expect(leaks(told)[0]?.notice.alarm.priority).toBe('medium')
  })

  it('more than 200 l/h in the night is told within 30 min', async () => {
    const told = await live(await pressure, { days: 0.3, fault: { words: 'tank-low:mild', afterH: 2, lastsH: 4 } })
    expect(firstHours(told)).toBeGreaterThan(0.2)
    expect(firstHours(told)).toBeLessThanOrEqual(0.5)
  })

  it('guests and a garden that is watered are no leak', async () => {
    const told = await live(await pressure, { days: 4, guests: [{ fromDay: 10.5, toDay: 13, people: 4 }] })
    expect(leaks(told)).toEqual([])
  })
})

describe('with an ultrasonic level sensor whose reading follows the air', () => {
  it('4 l/h in an empty place is told within 26 h, and nothing before', async () => {
    const told = await live(await ultrasonic, { days: 3.2, empty: true, fault: { words: 'leak:mild', afterH: 50 } })
    expect(firstHours(told)).toBeGreaterThan(0)
    expect(firstHours(told)).toBeLessThanOrEqual(26)
  })

  it('days in which nobody is there are no leak, though the level seems to fall each evening', async () => {
    const told = await live(await ultrasonic, { days: 5, empty: true })
    expect(leaks(told)).toEqual([])
  })
})
