import { describe, expect, it } from 'vitest'
import type { Notice } from '../../src/model/alarm.js'
import type { PersonSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE, SECOND } from '../../src/model/time.js'
import { compose } from '../../src/tell/compose.js'
import { createTeller } from '../../src/tell/teller.js'
import type { SendResult } from '../../src/tell/way.js'
import { failed, wayDown } from '../../src/tell/way.js'
import { wayAddress } from '../../src/tell/way-book.js'
import { manualClock } from '../support/manual-clock.js'
import {
  AFTERNOON,
  alarm,
  collector,
  fakeStore,
  message,
  notice,
  OPS,
  SILENT_LOG,
  siteSettings,
  tellSettings,
} from './support.js'

const HANG = () => new Promise<SendResult>(() => {})

/** A site with two ways, a teller that goes round every 5 s, and a clock moved by hand. */
function scene(people: readonly PersonSettings[] = [{ ...OPS, ways: ['mail-1', 'hook-1'] }], start = AFTERNOON) {
  const clock = manualClock(start)
  const store = fakeStore()
  const site = siteSettings({ tell: tellSettings({ people, digest: { atMinute: 450, to: ['ops'] } }) })
  const mail = collector(clock.now)
  const hook = collector(clock.now)
  const ways = new Map([
    [wayAddress('juniper', 'mail-1'), mail],
    [wayAddress('juniper', 'hook-1'), hook],
  ])
  const open = () => createTeller({ store, sites: [site], ways, clock, log: SILENT_LOG, after: clock.after })
  const teller = open()
  teller.start(5 * SECOND)
  const tell = (one: Notice) => {
    for (const row of compose(one, site, { now: clock.now(), link: () => null })) store.outbox.add(row)
  }
  /** Minutes after the start at which a way got something. */
  const times = (way: { got: readonly { at: number }[] }) => way.got.map(({ at }) => Math.round((at - start) / MINUTE))
  return { clock, store, site, mail, hook, teller, tell, times, open }
}

const hold = (at: number) => notice('raised', { priority: 'medium', since: at, raised: at })

describe('the time line of a message', () => {
  it('at 0 min raised, within a round told by every way; at 50 min over, told again, and nothing more', async () => {
    const { clock, mail, hook, tell, times } = scene()
    tell(notice())
    await clock.advance(10 * SECOND)
    expect([mail.got.length, hook.got.length]).toEqual([1, 1])
    await clock.advance(50 * MINUTE)
    tell(notice('cleared', { cleared: clock.now() }))
    await clock.advance(6 * HOUR)
    expect(times(mail)).toEqual([0, 50])
    expect(mail.got.map(({ subject }) => subject)).toEqual([
      'Juniper Bench: The pump runs and no water arrives',
      'Over: Juniper Bench: The pump runs and no water arrives',
    ])
    expect(times(hook)).toEqual([0, 50])
  })

  it('tells a repeated notice once', async () => {
    const { clock, mail, tell } = scene()
    tell(notice())
    await clock.advance(MINUTE)
    tell(notice())
    await clock.advance(HOUR)
    expect(mail.got).toHaveLength(1)
  })

  it('tries again after 1, 2, 5, 15 and 60 min, then hourly, and gives up after 48 h', async () => {
    const { clock, store, mail, tell } = scene()
    const tried: number[] = []
    mail.answer = async () => {
      tried.push(Math.round((clock.now() - AFTERNOON) / MINUTE))
      return failed(true, 'SMTP: 450 later')
    }
    tell(notice())
    await clock.advance(3 * DAY)
    expect(tried.slice(0, 8)).toEqual([0, 1, 3, 8, 23, 83, 143, 203])
    expect(tried.at(-1)).toBeGreaterThan(46 * 60)
    expect(tried.at(-1)).toBeLessThanOrEqual(48 * 60)
    expect(store.rows[0]).toMatchObject({ state: 'failed', error: 'not delivered within 48 h: SMTP: 450 later' })
  })

  it('waits as long as the other side asks', async () => {
    const { clock, hook, tell, times } = scene()
    let first = true
    hook.answer = async () => {
      if (!first) return { ok: true }
      first = false
      return wayDown('the server answered 429', 40 * MINUTE)
    }
    tell(notice())
    await clock.advance(2 * HOUR)
    expect(times(hook)).toEqual([40])
  })

  it('gives up at once on what the other side will never take', async () => {
    const { clock, store, mail, tell } = scene()
    let tries = 0
    mail.answer = async () => {
      tries += 1
      return failed(false, 'SMTP: 550 no such mailbox')
    }
    tell(notice())
    await clock.advance(DAY)
    expect(tries).toBe(1)
    expect(store.rows.find(({ way }) => way === 'mail-1')?.state).toBe('failed')
  })

  it('does not send what is more than 48 h old after the program was off', async () => {
    const { clock, store, mail, tell, teller } = scene()
    await teller.stop()
    tell(notice())
    await clock.advance(3 * DAY)
    const later = scene()
    expect(later.store).not.toBe(store)
    await createTeller({
      store,
      sites: [later.site],
      ways: new Map([[wayAddress('juniper', 'mail-1'), mail]]),
      clock,
      log: SILENT_LOG,
      after: clock.after,
    }).tick(clock.now())
    expect(mail.got).toEqual([])
    expect(store.rows[0]?.state).toBe('failed')
  })

  it('settles rows of a way that is no longer configured', async () => {
    const { clock, store } = scene()
    store.outbox.add(message({ way: 'old-way' }))
    await clock.advance(MINUTE)
    expect(store.rows[0]).toMatchObject({ state: 'failed', error: expect.stringContaining('old-way') })
  })
})

describe('a way that hangs', () => {
  it('is cut off after 60 s and never holds another', async () => {
    const { clock, store, mail, hook, tell, times } = scene()
    mail.answer = HANG
    tell(notice())
    await clock.advance(30 * SECOND)
    expect(times(hook)).toEqual([0])
    await clock.advance(40 * SECOND)
    expect(store.rows.find(({ way }) => way === 'mail-1')).toMatchObject({
      state: 'waiting',
      error: 'no answer within 60 s',
    })
    tell(notice('cleared', { cleared: clock.now() }))
    await clock.advance(10 * SECOND)
    expect(hook.got).toHaveLength(2)
  })

  it('costs one deadline for all that wait behind it, not one each', async () => {
    const { clock, store, mail, tell } = scene()
    let tries = 0
    mail.answer = () => {
      tries += 1
      return HANG()
    }
    for (let n = 0; n < 20; n += 1) tell(notice('raised', { key: `freezing:line ${n}` }))
    await clock.advance(65 * SECOND)
    expect(tries).toBe(1)
    expect(store.rows.filter(({ way, attempts }) => way === 'mail-1' && attempts === 1)).toHaveLength(20)
  })

  it('leaves places for ways that work, when many hang', async () => {
    const clock = manualClock(AFTERNOON)
    const store = fakeStore()
    const names = Array.from({ length: 100 }, (_, n) => `way-${n}`)
    const good = collector(clock.now)
    const bad = { ...collector(clock.now), send: HANG }
    const ways = new Map(names.map((name) => [wayAddress('juniper', name), name === 'way-99' ? good : bad]))
    const teller = createTeller({ store, sites: [siteSettings()], ways, clock, log: SILENT_LOG, after: clock.after })
    for (const way of names) store.outbox.add(message({ way, key: `first ${way}` }))
    teller.start(5 * SECOND)
    // By now 99 ways have hung once and, a minute later, all try again: they are at it when this comes.
    await clock.advance(2 * MINUTE + 20 * SECOND)
    expect(good.got).toHaveLength(1)
    const asked = clock.now()
    store.outbox.add(message({ way: 'way-99', key: 'second', due: asked }))
    await clock.advance(10 * SECOND)
    expect((good.got[1]?.at ?? Number.POSITIVE_INFINITY) - asked).toBeLessThanOrEqual(5 * SECOND)
  })

  it('over one message of its own does not keep the others from going', async () => {
    const { clock, mail, tell } = scene()
    const poison = notice('raised', { key: 'overfill:', priority: 'critical' })
    const [bad] = compose(poison, siteSettings(), { now: 0, link: () => null })
    mail.send = async ({ key, subject, text }) => {
      if (key === bad?.key) return wayDown('the server answered 500')
      mail.got.push({ at: clock.now(), key, subject, text })
      return { ok: true }
    }
    tell(poison)
    for (const key of ['tank-low:', 'battery-low:']) tell(notice('raised', { key }))
    await clock.advance(3 * MINUTE)
    expect(mail.got).toHaveLength(2)
  })

  it('that throws is a way that failed', async () => {
    const { clock, store, mail, tell } = scene()
    mail.answer = async () => {
      throw new Error('out of order')
    }
    tell(notice())
    await clock.advance(10 * SECOND)
    expect(store.rows[0]).toMatchObject({ state: 'waiting', error: 'out of order' })
  })
})

describe('when nothing gets through', () => {
  it('knows who cannot be reached and since when, after the first failed round, and until a way works again', async () => {
    const { clock, mail, hook, tell, teller } = scene()
    mail.answer = async () => wayDown('connection refused')
    tell(notice())
    await clock.advance(10 * SECOND)
    expect(teller.failingSince('juniper')).toBeNull() // the webhook works
    hook.answer = async () => wayDown('the server answered 503')
    tell(notice('cleared', { cleared: clock.now() }))
    await clock.advance(10 * SECOND)
    expect(teller.failingSince('juniper')).toBeGreaterThanOrEqual(AFTERNOON)
    expect(teller.unreachable('juniper')).toMatchObject([
      { person: 'ops', error: 'mail-1: connection refused; hook-1: the server answered 503' },
    ])
    mail.answer = async () => ({ ok: true })
    await clock.advance(2 * MINUTE)
    expect(teller.failingSince('juniper')).toBeNull()
    expect(teller.wayStates('juniper').find(({ way }) => way === 'mail-1')?.provedAt).toBeGreaterThan(AFTERNOON)
  })

  it('still knows after a restart', async () => {
    const { clock, mail, hook, tell, teller, open } = scene()
    mail.answer = hook.answer = async () => wayDown('no route')
    tell(notice())
    await clock.advance(10 * SECOND)
    await teller.stop()
    expect(open().failingSince('juniper')).toBe(teller.failingSince('juniper'))
  })

  it('does not take one "later" about one message for a way that fails', async () => {
    const { clock, mail, hook, tell, teller } = scene()
    mail.answer = hook.answer = async () => failed(true, 'SMTP: 450 greylisted')
    tell(notice())
    await clock.advance(30 * SECOND)
    expect(teller.failingSince('juniper')).toBeNull()
    await clock.advance(10 * MINUTE)
    expect(teller.failingSince('juniper')).not.toBeNull()
  })

  it('after 9 h without a link tells what came and went in one message, and what stands on its own', async () => {
    const { clock, mail, tell } = scene([{ ...OPS, ways: ['mail-1'], quiet: null }])
    mail.answer = async () => wayDown('no route')
    for (let n = 0; n < 14; n += 1) {
      const since = clock.now()
      const about = { key: `freezing:line ${n}`, since, raised: since, priority: 'medium' as const }
      tell(notice('raised', about))
      await clock.advance(20 * MINUTE)
      tell(notice('cleared', { ...about, cleared: clock.now() }))
      await clock.advance(18 * MINUTE)
    }
    tell(notice('raised', { key: 'tank-low:', since: clock.now(), raised: clock.now() }))
    await clock.advance(10 * SECOND)
    mail.answer = async () => ({ ok: true })
    await clock.advance(HOUR)
    expect(mail.got.map(({ subject }) => subject).sort()).toEqual([
      'Juniper Bench: 14 messages (14 cleared)',
      'Juniper Bench: The pump runs and no water arrives',
    ])
    const lines = mail.got.flatMap(({ text }) => text.split('\n')).filter((line) => line.startsWith('- Cleared:'))
    expect(lines).toHaveLength(14)
    // All within a round of the first that got through.
    const at = mail.got.map((one) => one.at)
    expect(Math.max(...at) - Math.min(...at)).toBeLessThanOrEqual(5 * SECOND)
  })
})

describe('quiet hours', () => {
  const NIGHT = Date.UTC(2026, 1, 4, 9, 0) // 02:00 in Denver
  const MORNING = Date.UTC(2026, 1, 4, 14, 0)

  it('let a critical alarm through and keep the rest for one message in the morning, cleared ones marked', async () => {
    const { clock, mail, tell } = scene([{ ...OPS, ways: ['mail-1'] }], NIGHT)
    tell(notice('raised', { key: 'overfill:', priority: 'critical', since: NIGHT, raised: NIGHT }))
    await clock.advance(MINUTE)
    expect(mail.got).toHaveLength(1)
    const gone = {
      key: 'tank-low:',
      since: NIGHT,
      raised: NIGHT,
      words: { ...alarm().words, title: 'The tank is low' },
    }
    tell(notice('raised', gone))
    tell(hold(clock.now()))
    await clock.advance(HOUR)
    tell(notice('cleared', { ...gone, cleared: clock.now() }))
    tell(
      notice('cleared', { key: 'overfill:', priority: 'critical', since: NIGHT, raised: NIGHT, cleared: clock.now() }),
    )
    await clock.advance(MORNING - SECOND - clock.now())
    expect(mail.got).toHaveLength(1)
    await clock.advance(10 * SECOND)
    expect(mail.got).toHaveLength(2)
    const [, morning] = mail.got
    expect(morning?.subject).toBe('Juniper Bench: 3 messages (1 not cleared, 2 cleared)')
    expect(morning?.text).toContain('- Cleared: The tank is low, Wed 4 Feb 02:00 to Wed 4 Feb 03:01')
    expect(morning?.text).toContain('- Not cleared: The pump runs and no water arrives, since Wed 4 Feb 02:01')
    expect(morning?.text).toContain('- Over: The pump runs and no water arrives (Wed 4 Feb 03:01)')
    expect(morning?.text).toContain('Switch the pump off at the box.') // what stands is told in full
    await clock.advance(DAY)
    expect(mail.got).toHaveLength(2)
  })

  it('send a single held message as it is', async () => {
    const { clock, mail, tell } = scene([{ ...OPS, ways: ['mail-1'] }], NIGHT)
    tell(hold(NIGHT))
    await clock.advance(6 * HOUR)
    expect(mail.got.map(({ subject }) => subject)).toEqual(['Juniper Bench: The pump runs and no water arrives'])
    expect(mail.got[0]?.at).toBeGreaterThanOrEqual(MORNING)
  })

  it('and the morning digest of low priority are told once each, across a night that changes the clock', async () => {
    const start = Date.UTC(2026, 2, 8, 3, 0) // 20:00 on 7 March; Denver loses an hour that night
    const { clock, mail, tell } = scene([{ ...OPS, ways: ['mail-1'] }], start)
    for (const key of ['stale-water:', 'yield-falling:'])
      tell(notice('raised', { key, priority: 'low', since: start, raised: start }))
    await clock.advance(2 * DAY)
    expect(mail.got).toHaveLength(1)
    expect(new Date(mail.got[0]?.at ?? 0).toISOString().slice(0, 16)).toBe('2026-03-08T13:30') // 07:30 MDT
  })
})

describe('when the store cannot write', () => {
  it('does not send a delivered message again while its note cannot be written', async () => {
    const { clock, store, mail, tell } = scene([{ ...OPS, ways: ['mail-1'] }])
    tell(notice())
    store.broken = new Error('disk full')
    await clock.advance(10 * MINUTE)
    expect(mail.got).toHaveLength(1)
    store.broken = null
    await clock.advance(10 * SECOND)
    expect(store.rows[0]?.state).toBe('sent')
    expect(mail.got).toHaveLength(1)
  })

  it('says so once, goes on with its rounds, and delivers when the store is back', async () => {
    const clock = manualClock(AFTERNOON)
    const store = fakeStore()
    const mail = collector(clock.now)
    const said: string[] = []
    const log = { ...SILENT_LOG, error: (_: object, text: string) => said.push(text) }
    const outbox = {
      ...store.outbox,
      due(now: number, limit: number) {
        if (store.broken !== null) throw store.broken
        return store.outbox.due(now, limit)
      },
    }
    const ways = new Map([[wayAddress('juniper', 'mail-1'), mail]])
    const teller = createTeller({
      store: { ...store, outbox },
      sites: [siteSettings()],
      ways,
      clock,
      log,
      after: clock.after,
    })
    store.outbox.add(message())
    store.broken = new Error('disk full')
    teller.start(5 * SECOND)
    await clock.advance(HOUR)
    expect(said).toEqual(['outbox: cannot be read'])
    store.broken = null
    await clock.advance(10 * SECOND)
    expect(mail.got).toHaveLength(1)
    await teller.stop()
    expect(clock.pending()).toBe(0)
  })

  it('can still tell past the outbox, each message once', async () => {
    const { teller, mail, hook } = scene()
    hook.answer = async () => wayDown('no route')
    const both = [message({ key: 'a', way: 'mail-1' }), message({ key: 'b', way: 'hook-1' })]
    expect((await teller.direct(both)).map(({ key }) => key)).toEqual(['b'])
    hook.answer = async () => ({ ok: true })
    expect(await teller.direct(both)).toEqual([])
    expect([mail.got.length, hook.got.length]).toEqual([1, 1])
  })
})

describe('a test', () => {
  it('goes through every way, marked as one, and brings back what each answered', async () => {
    const { teller, mail, hook } = scene()
    hook.answer = async () => wayDown('the server answered 503')
    expect(await teller.test('juniper')).toEqual([
      { way: 'mail-1', kind: 'email', people: ['ops'], ok: true, error: null },
      { way: 'hook-1', kind: 'webhook', people: ['ops'], ok: false, error: 'the server answered 503' },
      { way: 'mqtt-1', kind: 'mqtt', people: [], ok: false, error: 'this way could not be opened' },
    ])
    expect(mail.got[0]?.subject).toBe('TEST: Juniper Bench: messages from here reach you')
    expect(mail.got[0]?.text).toContain('Nothing is wrong')
  })
})
