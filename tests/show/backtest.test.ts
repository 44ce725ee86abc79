import { describe, expect, it } from 'vitest'
import { ACT, createFakeApp, signIn } from './fake-app.js'
import { OWNER, VIEWER } from './fake-source.js'

async function asked(payload: object, account = OWNER) {
  const { app, source } = createFakeApp({ access: 'accounts' })
  const cookie = await signIn(app, account)
  const answer = await app.inject({ method: 'POST', url: '/api/backtest', headers: { ...ACT, cookie }, payload })
  await app.close()
  return { status: answer.statusCode, body: answer.json(), acts: source.acts }
}

describe('POST /api/backtest', () => {
  it('hands the settings on and answers with what would differ', async () => {
    const { status, body, acts } = await asked({ alarm: 'dry-well', settings: { on_delay: 780, light_ratio: 0.7 } })
    expect(status).toBe(200)
    expect(acts).toEqual(['backtest juniper dry-well {"on_delay":780,"light_ratio":0.7}'])
    expect(body).toMatchObject({ site: 'juniper', alarm: 'dry-well', learned: true, changes_in_all: 2 })
    expect(body.changes[0].change).toBe('later')
    expect(Date.parse(body.changes[0].proposed) - Date.parse(body.changes[0].configured)).toBe(720_000)
    expect(body.changes[1]).toMatchObject({ change: 'gone', proposed: null })
  })

  it('is for owners', async () => {
    expect(await asked({ alarm: 'dry-well', settings: { on_delay: 780 } }, VIEWER)).toMatchObject({
      status: 403,
      acts: [],
    })
  })

  it('is busy while another is tried', async () => {
    expect((await asked({ alarm: 'dry-well', settings: { on_delay: 77 } })).status).toBe(429)
  })

  it.each([
    ['an unknown alarm', { alarm: 'no-such', settings: { on_delay: 1 } }],
    ['a setting of another alarm', { alarm: 'leak', settings: { light_ratio: 0.5 } }],
    ['a name that every object has', { alarm: 'dry-well', settings: { constructor: 1 } }],
    ['no setting', { alarm: 'dry-well', settings: {} }],
    ['a delay of more than a week', { alarm: 'dry-well', settings: { on_delay: 8 * 86_400 } }],
    ['half a reading', { alarm: 'dry-well', settings: { samples: 2.5 } }],
    ['words for a figure', { alarm: 'dry-well', settings: { on_delay: '10 min' } }],
  ])('refuses %s', async (_what, payload) => {
    const { status, body, acts } = await asked(payload)
    expect(status).toBe(400)
    expect(body.error).not.toBe('')
    expect(acts).toEqual([])
  })
})
