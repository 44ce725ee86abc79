import { describe, expect, it } from 'vitest'
import { SECOND } from '../../src/model/time.js'
import { createTeller } from '../../src/tell/teller.js'
import type { SendResult } from '../../src/tell/way.js'
import { failed } from '../../src/tell/way.js'
import { wayAddress } from '../../src/tell/way-book.js'
import { manualClock } from '../support/manual-clock.js'
import { AFTERNOON, collector, fakeStore, message, SILENT_LOG, siteSettings } from './support.js'

function scene() {
  const clock = manualClock(AFTERNOON)
  const store = fakeStore()
  const mail = collector(clock.now)
  const ways = new Map([[wayAddress('juniper', 'mail-1'), mail]])
  const teller = createTeller({ store, sites: [siteSettings()], ways, clock, log: SILENT_LOG, after: clock.after })
  return { clock, store, mail, teller }
}

describe('a message that was told past the store', () => {
  it('comes to the outbox when the store works again, and is noted as sent without being sent twice', async () => {
    const { clock, store, mail, teller } = scene()
    const one = message({ key: 'a', due: AFTERNOON })
    expect(await teller.direct([one])).toEqual([])
    store.outbox.add(one)
    teller.start(5 * SECOND)
    await clock.advance(20 * SECOND)
    expect(mail.got).toHaveLength(1)
    expect(store.rows).toMatchObject([{ key: 'a', state: 'sent' }])
  })

  it('is left alone by the outbox while it is under way', async () => {
    const { clock, store, mail, teller } = scene()
    let answer: (result: SendResult) => void = () => {}
    mail.answer = () =>
      new Promise((resolve) => {
        answer = resolve
      })
    const one = message({ key: 'a', due: AFTERNOON })
    const sending = teller.direct([one])
    store.outbox.add(one)
    teller.start(5 * SECOND)
    await clock.advance(10 * SECOND)
    expect(store.rows).toMatchObject([{ state: 'waiting', attempts: 0 }])
    answer({ ok: true })
    await sending
    await clock.advance(10 * SECOND)
    expect(mail.got).toHaveLength(1)
    expect(store.rows).toMatchObject([{ state: 'sent' }])
  })

  it('that failed is told by the outbox', async () => {
    const { clock, store, mail, teller } = scene()
    mail.answer = async () => failed(true, 'not now')
    const one = message({ key: 'a', due: AFTERNOON })
    expect(await teller.direct([one])).toEqual([one])
    mail.answer = async () => ({ ok: true })
    store.outbox.add(one)
    teller.start(5 * SECOND)
    await clock.advance(20 * SECOND)
    expect(mail.got).toHaveLength(1)
    expect(store.rows).toMatchObject([{ key: 'a', state: 'sent' }])
  })
})
