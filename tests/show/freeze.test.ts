import { describe, expect, it } from 'vitest'
import { createFakeApp } from './fake-app.js'

describe('GET /api/freeze', () => {
  it('says tonight with its doubt and course, the lines, the ground, the battery and the seasons', async () => {
    const { app } = createFakeApp()
    const answer = await app.inject({ method: 'GET', url: '/api/freeze?site=juniper' })
    expect(answer.statusCode).toBe(200)
    const body = answer.json()
    expect(body.tonight).toMatchObject({ method: 'own', expected_min_c: -6.4, sd_c: 1.7, sky: 'clear', evening: true })
    expect(body.tonight.course).toHaveLength(8)
    expect(body.methods).toHaveLength(4)
    expect(body.lines[0]).toMatchObject({
      name: 'tank outlet',
      water: 'flowing',
      hours_to_zero: null,
      expected_min_c: 1.5,
    })
    expect(body.frost).toMatchObject({ depth_m: 0.41, depth_turf_m: 0.35, depth_cleared_m: 0.49 })
    expect(body.battery).toMatchObject({ kind: 'lithium', threatened: true, charge: null })
    expect(body.closing).toMatchObject({ known: true, from: '2025-10-04', to: '2025-10-21' })
    expect(body.opening).toMatchObject({ known: false, from: null, rests_on: 'Not enough nights yet: 40 of 120.' })
    expect(body.closing.steps.length).toBeGreaterThan(5)
    await app.close()
  })
})
