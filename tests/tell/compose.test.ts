import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { Priority } from '../../src/model/alarm.js'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { compose, type ComposeOptions } from '../../src/tell/compose.js'
import { septets } from '../../src/tell/gsm.js'
import { AFTERNOON, alarm, notice, OPS, siteSettings, tellSettings } from './support.js'

const OPTIONS: ComposeOptions = {
  now: AFTERNOON + 3 * MINUTE,
  link: (key, person) => `https://juniper.example/ack/${encodeURIComponent(key)}-${person}`,
}

function only<T>(items: readonly T[]): T {
  const [first] = items
  if (items.length !== 1 || first === undefined) throw new Error(`expected one, found ${items.length}`)
  return first
}

describe('who is told', () => {
  it('tells each person by each of their ways, from their least priority on', () => {
    const site = siteSettings({
      tell: tellSettings({
        people: [
          { name: 'ops', ways: ['mail-1', 'mqtt-1'], quiet: null, least: 'medium' },
          { name: 'neighbour', ways: ['hook-1'], quiet: null, least: 'critical' },
        ],
      }),
    })
    const told = (priority: Priority) =>
      compose(notice('raised', { priority }), site, OPTIONS).map(({ person, way }) => `${person} ${way}`)
    expect(told('critical')).toEqual(['ops mail-1', 'ops mqtt-1', 'neighbour hook-1'])
    expect(told('high')).toEqual(['ops mail-1', 'ops mqtt-1'])
    expect(told('medium')).toEqual(['ops mail-1', 'ops mqtt-1'])
    expect(told('low')).toEqual([])
  })

  it('gives the same notice the same keys again, and every other notice another', () => {
    const site = siteSettings()
    const keys = [
      notice('raised'),
      notice('cleared', { cleared: AFTERNOON + HOUR }),
      notice('worsened', { priority: 'critical' }),
      notice('on-and-off'),
      notice('raised', { raised: AFTERNOON + HOUR }),
      notice('raised', { key: 'freezing:tank outlet', id: 'freezing', subject: 'tank outlet' }),
    ].map((one) => only(compose(one, site, OPTIONS)).key)
    expect(new Set(keys).size).toBe(keys.length)
    expect(only(compose(notice(), site, { ...OPTIONS, now: AFTERNOON + HOUR })).key).toBe(keys[0])
  })

  it('tells the all-clear also to someone who heard of it only because nobody answered', () => {
    const site = siteSettings({
      tell: tellSettings({ people: [{ name: 'neighbour', ways: ['mail-1'], quiet: null, least: 'critical' }] }),
    })
    const over = notice('cleared', { cleared: AFTERNOON + HOUR })
    expect(compose(over, site, OPTIONS)).toEqual([])
    const wasTold = (key: string) => key.includes('/escalated/neighbour/mail-1')
    expect(only(compose(over, site, { ...OPTIONS, wasTold })).kind).toBe('all-clear')
  })
})

describe('what is said', () => {
  const raised = only(compose(notice(), siteSettings(), OPTIONS))

  it('says what, since when in local time with its zone, numbers beside their usual, causes, what to do, and what if not', () => {
    expect(raised.subject).toBe('Juniper Bench: The pump runs and no water arrives')
    for (const words of [
      'running light since 14:05',
      'Since Tue 3 Feb 14:05',
      'America/Denver (MST)',
      'Pump current: 1.00 A (usual 2.80 A)',
      'Water left: 264 gal',
      '1. The well is pumped down.',
      'Switch the pump off at the box.',
      'Switch off the battery side',
      'About an hour.',
      'ruined within the hour',
      'https://juniper.example/ack/dry-well%3A-ops',
    ]) {
      expect(raised.text).toContain(words)
    }
  })

  it('shows an SI site litres', () => {
    expect(only(compose(notice(), siteSettings({ units: 'si' }), OPTIONS)).text).toContain('Water left: 1,000 l')
  })

  it('says in an all-clear how long it lasted, and asks for no acknowledgement', () => {
    const over = only(
      compose(notice('cleared', { cleared: AFTERNOON + 2 * HOUR + 5 * MINUTE }), siteSettings(), OPTIONS),
    )
    expect(over.subject).toBe('Over: Juniper Bench: The pump runs and no water arrives')
    expect(over.text).toContain('It lasted 2 h 5 min, from Tue 3 Feb 14:05 to Tue 3 Feb 16:10.')
    expect(over.short).toContain('over at 16:10')
    expect(over.text).not.toContain('https://')
    expect(over.at).toBe(AFTERNOON + 2 * HOUR + 5 * MINUTE)
  })

  it('makes HTML for email alone, with nothing in it that loads from elsewhere', () => {
    expect(raised.html).toContain('<li>Pump current: 1.00 A (usual 2.80 A)</li>')
    expect(raised.html).not.toMatch(/<(img|script|link|iframe|object|style)\b|url\(|src=/i)
    const site = siteSettings({ tell: tellSettings({ people: [{ ...OPS, ways: ['hook-1', 'mqtt-1'] }] }) })
    expect(compose(notice(), site, OPTIONS).map(({ html }) => html)).toEqual([null, null])
  })

  it('never lets a name become HTML', () => {
    const nasty = '<script>alert("x")</script>&\''
    const words = { ...alarm().words, what: nasty, causes: [nasty] }
    const site = siteSettings({ name: nasty })
    const { html } = only(compose(notice('raised', { words }), site, OPTIONS))
    expect(html).not.toContain('<script')
    expect(html).toContain('&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&amp;&#39;')
  })

  it('links only to the web', () => {
    const { html } = only(compose(notice(), siteSettings(), { ...OPTIONS, link: () => 'javascript:alert(1)' }))
    expect(html).not.toContain('href')
  })

  it('keeps every subject on one line of at most 60 characters and every short form within one text message', () => {
    fc.assert(
      fc.property(
        fc.string({ unit: 'grapheme', maxLength: 90 }),
        fc.string({ unit: 'binary', maxLength: 200 }),
        fc.constantFrom('raised', 'cleared', 'worsened', 'on-and-off', 'reminder'),
        (name, title, reason) => {
          const words = { ...alarm().words, title }
          const made = only(compose(notice(reason, { words }), siteSettings({ name }), OPTIONS))
          expect([...made.subject].length).toBeLessThanOrEqual(60)
          expect(made.subject).not.toMatch(/[\p{Cc}\p{Zl}\p{Zp}]/u)
          expect(septets(made.short)).not.toBeNull()
          expect(septets(made.short)).toBeLessThanOrEqual(160)
          expect(made.short).not.toMatch(/[\r\n]/)
        },
      ),
      { numRuns: 150 },
    )
  })
})
