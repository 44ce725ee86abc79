import { afterEach, describe, expect, it } from 'vitest'
import { DAY, HOUR } from '../../src/model/time.js'
import { CLOSING_STEPS, OPENING_STEPS } from '../../src/show/words/season-lists.js'
import { ACT, createFakeApp, type FakeApp } from './fake-app.js'
import { NOW } from './fake-site.js'

let fake: FakeApp
const begin = () => {
  fake = createFakeApp()
}
afterEach(() => fake.app.close())

const post = (payload: object) => fake.app.inject({ method: 'POST', url: '/api/season', headers: ACT, payload })
const lists = async () => (await fake.app.inject('/api/season')).json()
const journal = () => fake.source.journalRows.slice(2).map(({ by, text }) => `${by}: ${text}`)
const first = CLOSING_STEPS[1] ?? ''
const second = CLOSING_STEPS[4] ?? ''

describe('closing a place for the winter', () => {
  it('keeps each step that is done in the journal, and says who did which when, also over days', async () => {
    begin()
    expect((await post({ winterized: true, done: [first], finished: false })).statusCode).toBe(200)
    expect(fake.source.acts).toEqual([])
    fake.source.clock += HOUR
    expect((await post({ winterized: true, done: [second, second] })).statusCode).toBe(200)
    expect(fake.source.acts).toEqual(['season juniper true owner'])
    expect(journal()).toEqual([`owner: Closing, done: ${first}`, `owner: Closing, done: ${second}`])
    const { closing, opening } = await lists()
    const done = closing.filter((one: { done_at: string | null }) => one.done_at !== null)
    expect(done).toEqual([
      { step: first, done_at: new Date(NOW).toISOString(), by: 'owner' },
      { step: second, done_at: new Date(NOW + HOUR).toISOString(), by: 'owner' },
    ])
    expect(closing).toHaveLength(CLOSING_STEPS.length)
    expect(opening.map(({ step }: { step: string }) => step)).toEqual(OPENING_STEPS)
  })

  it('begins with an empty list again when the place has been opened, and in another year', async () => {
    begin()
    await post({ winterized: true, done: [first], finished: false })
    const note = { site: 'juniper', by: 'ops', newBaseline: false, upkeep: null }
    fake.source.addJournal({ ...note, at: fake.source.clock, text: 'Opened after winter' })
    expect((await lists()).closing[1].done_at).toBeNull()
    await post({ winterized: true, done: [first], finished: false })
    expect((await lists()).closing[1].done_at).not.toBeNull()
    fake.source.clock += 301 * DAY
    expect((await lists()).closing[1].done_at).toBeNull()
  })

  it.each([
    [{ winterized: false, done: [first] }],
    [{ winterized: true, done: ['Something else'] }],
    [{ winterized: true, finished: false }],
    [{ winterized: true, done: 'all' }],
  ])('refuses steps of another list and of none: %j', async (payload) => {
    begin()
    const answer = await post(payload)
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe('done')
    expect(journal()).toEqual([])
    expect(fake.source.acts).toEqual([])
  })
})
