import { afterAll, describe, expect, it } from 'vitest'
import { emptyTrendFacts, type TrendFacts } from '../../src/model/facts-trend.js'
import { DAY, type Ms } from '../../src/model/time.js'
import { usualBody } from '../../src/show/bodies/usual.js'
import { checkValveSentence } from '../../src/show/words/trend.js'
import { trendOf } from '../judge/trend.js'
import { createFakeApp } from './fake-app.js'
import { JUNIPER, juniperFacts, NOW } from './fake-site.js'

const { app, source } = createFakeApp()
afterAll(() => app.close())

/** 23 January 2026, 14:05 at the site. */
const SINCE: Ms = NOW - 11 * DAY

const FALLEN: TrendFacts = {
  ...trendOf({ yieldShare: -0.12, energyShare: 0.13, currentShare: 0, since: SINCE }),
  suggestion: { of: 'yield', since: SINCE, share: -0.12, fills: 12 },
  checkValve: {
    verdict: 'longer',
    witness: 'current',
    resolutionS: 10,
    usual: { value: 0, sd: 0, fills: 16 },
    latestS: 190,
    recentS: 190,
    growthSPerH: { value: 4, sd: 0.5 },
    since: SINCE,
  },
  figures: [{ id: 'yield', quantity: 'flow', usual: { value: 4.2, sd: 0.05, fills: 24 }, since: NOW - 40 * DAY }],
}

function withTrend(trend: TrendFacts): void {
  source.factsOf.set('juniper', { ...juniperFacts(), trend })
}

describe('GET /api/usual', () => {
  it('lists every learned figure with value, spread, what it rests on and since when', async () => {
    withTrend(FALLEN)
    const answer = await app.inject('/api/usual')
    expect(answer.statusCode, answer.body).toBe(200)
    const body = answer.json()
    expect(body.figures[0]).toEqual({
      id: 'yield',
      name: 'Yield, at the reference voltage',
      quantity: 'flow',
      value: 4.2,
      sd: 0.05,
      rests_on: 24,
      since: new Date(NOW - 40 * DAY).toISOString(),
    })
    expect(body.figures.map((one: { id: string }) => one.id)).toContain('usual-draw')
  })

  it('says a step that stayed, and asks for a word in the service log', async () => {
    withTrend(FALLEN)
    const { suggestion, yield: water } = (await app.inject('/api/usual')).json()
    expect(suggestion.sentence).toBe(
      'Since 23 Jan 2026 the yield stands 12 % lower and steady; if you changed something, say so in the service log and learn anew from there.',
    )
    expect(water).toMatchObject({ direction: 'fallen', share: -0.12, since: new Date(SINCE).toISOString() })
    expect(water.sentence).toContain('1.0 gal/min where it was 1.1 gal/min')
  })

  it('has the check valve as a line, with its growth by the hour of rest', async () => {
    withTrend(FALLEN)
    const { check_valve: valve } = (await app.inject('/api/usual')).json()
    expect(valve).toMatchObject({ verdict: 'longer', seen_by: 'current', latest_s: 190, growth_s_per_h: 4 })
    expect(valve.sentence.replaceAll('\u00a0', ' ')).toContain(
      'longer before water arrives since 23 Jan 2026: 3 min, usually less than 10 s',
    )
  })

  it('says what is still learned, and answers before anything has been heard', async () => {
    source.factsOf.set('juniper', null)
    const body = (await app.inject('/api/usual')).json()
    expect(body).toMatchObject({ learning: true, figures: [], suggestion: null })
    expect(body.yield.sentence).toBe('Yield: still learning, 0 of 8 fit fills.')
    expect(body.check_valve.sentence).toContain('still learning')
  })

  it('is told to a site that exists only, and is described in the OpenAPI document', async () => {
    expect((await app.inject('/api/usual?site=willow')).statusCode).toBe(404)
    const document = (await app.inject('/api/openapi.json')).json()
    expect(document.paths['/api/usual'].get.summary).toContain('What is usual here')
  })
})

describe('what cannot be told', () => {
  const at = (trend: Partial<TrendFacts>) => usualBody(JUNIPER, { ...juniperFacts(), trend: { ...FALLEN, ...trend } })

  it('is said: no level, probe or meter', () => {
    const { yield: base } = FALLEN
    expect(at({ sight: 'none', yield: { ...base, direction: 'not-measured' } }).yield.sentence).toContain(
      'not measured',
    )
  })

  it('is said: with probes only a change takes some weeks to show', () => {
    const steady = { ...FALLEN.yield, direction: 'steady', since: null, share: 0.004 } as const
    expect(at({ sight: 'quiet-fills', yield: steady }).yield.sentence).toMatch(/With probes only/)
    expect(at({ sight: 'each-fill', yield: steady }).yield.sentence).toMatch(/Lately \+0\.4 % ± 3\.0 %/)
  })

  it('is said: sampling that cannot see when water begins to come', () => {
    const { checkValve } = emptyTrendFacts()
    expect(checkValveSentence({ ...checkValve, verdict: 'not-measured' }, JUNIPER)).toContain('not measured')
  })
})
