import { afterAll, describe, expect, it } from 'vitest'
import { DAY, MINUTE } from '../../src/model/time.js'
import { createFakeApp } from './fake-app.js'
import { JUNIPER, NOW } from './fake-site.js'
import { BOTH_SITES, createFakeSource } from './fake-source.js'

const { app, source, errors } = createFakeApp()
const both = createFakeApp({ source: createFakeSource(BOTH_SITES) })

afterAll(async () => {
  await app.close()
  await both.app.close()
})

describe('GET /api/now', () => {
  it('says what is so, in SI with the unit in the name, times in ISO 8601 UTC', async () => {
    const answer = await app.inject('/api/now')
    expect(answer.statusCode, answer.body).toBe(200)
    const body = answer.json()
    expect(body.at).toBe('2026-02-03T21:05:00.000Z')
    expect(body.water).toMatchObject({ level_m: 1.016, volume_l: 1187.7, reckoned: false })
    expect(body.pump).toMatchObject({ running: true, ran_s: 1380, current_a: 4.42, expected_fill_s: 4620 })
    expect(body.boards.map((one: { id: string; quiet: boolean }) => [one.id, one.quiet])).toEqual([
      ['tank-board', false],
      ['power-board', false],
      ['weather-board', false],
    ])
  })

  it('calls a board quiet by what the site has set for board-silent', async () => {
    const set = { enabled: null, priority: null, onDelayS: null, offDelayS: null }
    const alarms = { 'board-silent': { ...set, numbers: { intervals: 0.5, at_least: 60 } } }
    const hasty = createFakeApp({ source: createFakeSource([{ ...JUNIPER, alarms }]) })
    const { boards } = (await hasty.app.inject('/api/now')).json()
    // Half of its 300 s is less than the 151 s since it was heard.
    expect(boards.filter((one: { quiet: boolean }) => one.quiet).map((one: { id: string }) => one.id)).toEqual([
      'weather-board',
    ])
    await hasty.app.close()
  })

  it('works the tank out from its shape: capacity at the overflow level, level of the reserve', async () => {
    const { tank } = (await app.inject('/api/now')).json()
    // Upright cylinder of 1.22 m: pi/4 * 1.22^2 = 1.168987 m2 (plain geometry).
    expect(tank.capacity_l).toBeCloseTo(1.168987 * 1400, 0)
    expect(tank.reserve_m).toBeCloseTo(400 / 1168.987, 3)
    expect(tank.width_m).toBe(1.22)
  })

  it('shows a sensor that failed as failed and unknown, never as a number', async () => {
    const { latest, sky } = (await app.inject('/api/now')).json()
    const humidity = latest.find((one: { key: string }) => one.key === 'humidity')
    expect(humidity).toMatchObject({ value: null, failed: true })
    expect(sky.humidity).toBeNull()
  })

  it('begins with the most urgent alarm', async () => {
    const { answer } = (await app.inject('/api/now')).json()
    expect(answer.verdict).toBe('act')
    expect(answer.sentence).toBe('Water has stopped arriving: the well may be dry, since 13:31.')
  })

  it('answers before anything has been heard', async () => {
    const empty = createFakeApp()
    empty.source.factsOf.set('juniper', null)
    empty.source.alarmsOf.clear()
    const body = (await empty.app.inject('/api/now')).json()
    expect(body.answer).toMatchObject({ verdict: 'not-known' })
    expect(body.water).toBeNull()
    expect(body.learning.learning).toBe(true)
    await empty.app.close()
  })
})

describe('the site of a request', () => {
  it('is the only one where the daemon has one', async () => {
    expect((await app.inject('/api/cycles')).json().site).toBe('juniper')
  })

  it('must be named where there are several, and the refusal names them', async () => {
    const answer = await both.app.inject('/api/now')
    expect(answer.statusCode).toBe(400)
    expect(answer.json()).toMatchObject({ field: 'site', expected: 'juniper, fern' })
    expect((await both.app.inject('/api/now?site=fern')).json().site.name).toBe('Fern Hollow')
  })

  it('is 404 when there is none of that name', async () => {
    const answer = await both.app.inject('/api/now?site=willow')
    expect(answer.statusCode).toBe(404)
    expect(answer.json().error).toContain('willow')
  })
})

describe('GET /api/series', () => {
  it('gives rows in SI and a row of nulls where the board was silent for over three intervals', async () => {
    const answer = await app.inject('/api/series/tank-level?points=300')
    expect(answer.statusCode, answer.body).toBe(200)
    const body = answer.json()
    expect(body).toMatchObject({ role: 'tank-level', unit: 'm', expect_every_s: 30 })
    const gaps = body.rows.filter((row: { n: number }) => row.n === 0)
    expect(gaps).toHaveLength(1)
    expect(gaps[0]).toMatchObject({ min: null, max: null, mean: null })
    const spanMin = (Date.parse(gaps[0].t1) - Date.parse(gaps[0].t0)) / MINUTE
    expect(spanMin).toBeGreaterThan(45)
    expect(spanMin).toBeLessThan(55)
    expect(body.rows.length).toBeLessThanOrEqual(301)
  })

  it('knows signals with a label', async () => {
    const answer = await app.inject('/api/series/line-temperature.outlet')
    expect(answer.json()).toMatchObject({ role: 'line-temperature.outlet', unit: 'Cel' })
  })

  it('takes times with any offset', async () => {
    const from = encodeURIComponent('2026-02-03T07:00:00-07:00')
    const body = (await app.inject(`/api/series/tank-level?from=${from}`)).json()
    expect(body.from).toBe('2026-02-03T14:00:00.000Z')
  })

  it.each([
    ['from', '?from=yesterday'],
    ['points', '?points=1'],
    ['points', '?points=100000'],
    ['points', '?points=many'],
    ['from', '?from=2026-02-03T00:00:00Z&to=2026-02-01T00:00:00Z'],
    ['from', '?from=1990-02-03T00:00:00Z'],
    ['colour', '?colour=blue'],
  ])('refuses with 400 and names %s for %s', async (field, query) => {
    const answer = await app.inject(`/api/series/tank-level${query}`)
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe(field)
  })

  it('is 404 for a signal that the site does not have, and lists those it has', async () => {
    const answer = await app.inject('/api/series/well-level')
    expect(answer.statusCode).toBe(404)
    expect(answer.json().expected).toContain('tank-level')
  })
})

describe('the histories', () => {
  it('GET /api/cycles gives fills, unknown figures as null', async () => {
    const { cycles } = (await app.inject('/api/cycles?limit=12')).json()
    expect(cycles).toHaveLength(12)
    expect(cycles[3]).toMatchObject({ volume_l: null, end_reason: 'power-lost', complete: false })
    expect(cycles[4]).toMatchObject({ volume_l: 350, volume_sd_l: 5, flow_l_min: 4.55 })
  })

  it('GET /api/cycles refuses a limit that is out of bounds', async () => {
    const answer = await app.inject('/api/cycles?limit=5000')
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe('limit')
  })

  it('GET /api/days gives the last month by default, by the site’s own calendar', async () => {
    const { days } = (await app.inject('/api/days')).json()
    expect(days.at(-1).date).toBe('2026-02-02')
    expect(days[0].date).toBe('2026-01-04')
    expect((await app.inject('/api/days?from=2026-02-30')).json().field).toBe('from')
    expect((await app.inject('/api/days?from=2026-02-02&to=2026-02-01')).statusCode).toBe(400)
    expect((await app.inject('/api/days?from=2016-02-02&to=2026-02-01')).statusCode).toBe(400)
  })

  it('GET /api/alarms keeps what is active apart from what is past', async () => {
    const body = (await app.inject('/api/alarms')).json()
    expect(body.active.map((one: { key: string }) => one.key)).toEqual(['dry-well:well'])
    expect(body.past.map((one: { key: string }) => one.key)).toEqual(['dry-well:past'])
    expect(body.active[0].evidence[0]).toEqual({ label: 'Pump current', quantity: 'current', value: 2.61, usual: 4.43 })
  })

  it('GET /api/journal gives entries as they were written', async () => {
    const { entries } = (await app.inject('/api/journal')).json()
    expect(entries.map((one: { id: number }) => one.id)).toEqual([1, 2])
    const from = new Date(NOW - 10 * DAY).toISOString()
    expect((await app.inject(`/api/journal?from=${from}`)).json().entries).toHaveLength(1)
  })

  it('GET /api/refused gives counts with an example and the messages kept aside', async () => {
    const body = (await app.inject('/api/refused')).json()
    expect(body.broker).toMatchObject([{ reason: 'account', who: 'pump-board', count: 3 }])
    expect(body.refused[0]).toMatchObject({ reason: 'sentinel', count: 12, example: '<script>alert(1)</script>' })
    expect(body.kept_aside[0]).toMatchObject({ reason: 'not-senml', topic: 'water/juniper/tank-board' })
  })
})

describe('errors', () => {
  it('are 404 in JSON for what is not there', async () => {
    const answer = await app.inject('/api/nothing')
    expect(answer.statusCode).toBe(404)
    expect(answer.json().error).toContain('/api/nothing')
  })

  it('of the program itself are told to the log and not to the asker', async () => {
    const broken = createFakeApp({
      source: {
        ...createFakeSource(),
        refusals: () => {
          throw new Error('disk secret')
        },
      },
    })
    const answer = await broken.app.inject('/api/refused')
    expect(answer.statusCode).toBe(500)
    expect(answer.body).not.toContain('disk secret')
    expect(broken.errors).toHaveLength(1)
    await broken.app.close()
  })

  it('did not happen in the tests above', () => {
    expect(errors).toEqual([])
    expect(source.acts).toEqual([])
  })
})
