import { afterAll, describe, expect, it } from 'vitest'
import { sizingBody } from '../../src/show/bodies/sizing.js'
import { sizingText } from '../../src/show/words/sizing.js'
import { daysWords } from '../../src/show/words/sizing-lines.js'
import { createFakeApp } from './fake-app.js'
import { JUNIPER } from './fake-site.js'
import { fakeSizing } from './fake-sizing.js'
import { createFakeSource } from './fake-source.js'

const { app } = createFakeApp()
afterAll(() => app.close())

describe('GET /api/sizing', () => {
  it('gives basis, options, what is recommended, and cautions', async () => {
    const answer = await app.inject('/api/sizing')
    expect(answer.statusCode, answer.body).toBe(200)
    const body = answer.json()
    expect(Object.keys(body)).toEqual(expect.arrayContaining(['basis', 'options', 'recommended', 'cautions']))
    expect(body.options[0]).toEqual({
      array_w: 440,
      battery_ah: 100,
      short_days_per_year: 5.2,
      short_days_ci95: [1.73, 13],
      worst_month: 12,
      loss_of_load: 0.0026,
      present: true,
    })
    expect(body.recommended).toMatchObject({ array_w: 650, battery_ah: 200 })
    expect(body.basis).toMatchObject({ usable_days: 71, uncovered_months: [3, 4, 5, 6, 7, 8, 9], volts: 24 })
  })

  it('takes the water needed a day and the days that may be short', async () => {
    const body = (await app.inject('/api/sizing?need_l=300&short_days=3')).json()
    expect(body.basis.need_l_per_day).toBe(300)
    expect(body.short_days_allowed).toBe(3)
    for (const words of ['need_l=0', 'need_l=lots', 'short_days=-1', 'short_days=400', 'neat_l=3']) {
      expect((await app.inject(`/api/sizing?${words}`)).statusCode, words).toBe(400)
    }
  })

  it('says 429 while too many sizes are waiting', async () => {
    const source = { ...createFakeSource(), sizing: async () => 'busy' as const }
    const busy = createFakeApp({ source })
    expect((await busy.app.inject('/api/sizing')).statusCode).toBe(429)
    await busy.app.close()
  })
})

describe('what size prints', () => {
  const text = sizingText(fakeSizing('juniper', null, 1), JUNIPER)

  it('says what stands there, what to get, and in how many of 100 cases', () => {
    expect(text).toContain('What stands there now, 440 W and 100 Ah, is short on 5.2 days a year (1.7 to 13)')
    expect(text).toContain('650 W and 200 Ah')
    expect(text).toMatch(/= *5\.2 \(1\.7 to 13\)/)
    expect(text).toMatch(/\*0\.3 \(0\.1 to 0\.8\)/)
  })

  it('has the hand method, what it rests on, the shade and the cautions', () => {
    expect(text).toContain('By hand: December asks for 770 Wh a day and has 3.5 h of full sun')
    expect(text).toContain('71 usable days from 2025-11-20 to 2026-02-02')
    expect(text).toContain('16:00 UTC 31 %')
    expect(text).toContain('  - No data covers March to September.')
  })

  it('is no wider than a terminal', () => {
    expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThanOrEqual(100)
  })

  it('says why when there is no answer', () => {
    const declined = {
      ...fakeSizing('juniper', null, 1),
      verdict: 'declined' as const,
      reason: 'There are 3 usable days.',
    }
    const bare = { ...declined, options: [], recommended: null, sure: null, changes: [], hand: null, wire: null }
    expect(sizingText(bare, JUNIPER)).toContain('There are 3 usable days.')
    expect(sizingBody(bare).recommended).toBeNull()
  })
})

describe('days in words', () => {
  it.each([
    [0, 'none'],
    [0.2, 'one in 5 years'],
    [1.4, '1.4 a year'],
    [23.4, '23 a year'],
  ])('%d is %s', (days, words) => {
    expect(daysWords(days)).toBe(words)
  })
})
