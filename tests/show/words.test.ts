import { describe, expect, it } from 'vitest'
import type { Alarm } from '../../src/model/alarm.js'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { answer, openAlarms } from '../../src/show/words/answer.js'
import { quantity } from '../../src/show/words/quantity.js'
import { dateKey, moment } from '../../src/show/words/when.js'
import { alarm, dryWell, FERN, fernFacts, JUNIPER, juniperFacts, NOW } from './fake-site.js'

const QUIET = { away: false, winterized: false, maintenanceUntil: null }
const words = (title: string): Alarm['words'] => ({ ...dryWell().words, title })
const low = alarm('yield-falling', 'pump', 'low', NOW - HOUR, words('Less water a minute than it was'))
const critical = alarm('overfill', 'tank', 'critical', NOW - 5 * MINUTE, words('The tank overflows.'))

describe('the sentence', () => {
  it('says that all is well only when water, pump, battery and every board are known', () => {
    expect(answer(JUNIPER, juniperFacts(), QUIET, [], NOW)).toMatchObject({
      verdict: 'well',
      sentence: 'All is well at Juniper Bench.',
    })
    const facts = juniperFacts()
    const noPump = answer(JUNIPER, { ...facts, pump: { ...facts.pump, known: false } }, QUIET, [], NOW)
    expect(noPump).toMatchObject({ verdict: 'look', sentence: expect.stringContaining('the pump is not known') })
    const neverHeard = answer(FERN, fernFacts(), QUIET, [], NOW)
    expect(neverHeard.sentence).toContain('pump-board has never been heard')
  })

  it('never calls silence well', () => {
    const facts = { ...juniperFacts(), lastHeard: NOW - 3 * HOUR }
    const said = answer(JUNIPER, facts, QUIET, [], NOW)
    expect(said.verdict).toBe('not-known')
    expect(said.sentence).toBe('How Juniper Bench is now is not known: last heard 3\u00a0h ago.')
    expect(said.detail).toMatch(/^Then: /)
    expect(answer(JUNIPER, facts, QUIET, [critical], NOW).detail).toMatch(/^Last heard 3\u00a0h ago\. Then: /)
  })

  it('begins with the most urgent alarm and counts the others', () => {
    const said = answer(JUNIPER, juniperFacts(), QUIET, [low, dryWell(), critical], NOW)
    expect(said.verdict).toBe('act')
    expect(said.sentence).toBe('The tank overflows, since 14:00. 2 more things to look at.')
    expect(answer(JUNIPER, juniperFacts(), QUIET, [low], NOW)).toMatchObject({
      verdict: 'look',
      sentence: 'Less water a minute than it was, since 13:05.',
    })
  })

  it('leaves out what is shelved, suppressed, explained by another or over', () => {
    const list: Alarm[] = [
      { ...low, state: 'shelved' },
      { ...low, state: 'suppressed' },
      { ...low, explainedBy: critical.key },
      { ...low, cleared: NOW },
      { ...low, state: 'out-of-service' },
    ]
    expect(openAlarms(list)).toEqual([])
    expect(answer(JUNIPER, juniperFacts(), QUIET, list, NOW).verdict).toBe('well')
  })

  it('speaks of maintenance and winter', () => {
    const said = answer(JUNIPER, juniperFacts(), { ...QUIET, maintenanceUntil: NOW + HOUR }, [], NOW)
    expect(said.detail).toContain('Maintenance until 15:05: messages are held back.')
    expect(answer(JUNIPER, juniperFacts(), { ...QUIET, winterized: true }, [], NOW).detail).toContain('winterized')
  })

  it('says of probes what probes can say', () => {
    const facts = fernFacts()
    const detail = (lowWet: boolean | null, highWet: boolean | null): string =>
      answer(FERN, { ...facts, water: { ...facts.water, volumeL: null, lowWet, highWet } }, QUIET, [], NOW).detail
    expect(detail(true, false)).toContain('between the low and the high mark')
    expect(detail(false, false)).toContain('below the low mark')
    expect(detail(true, true)).toContain('at the high mark')
    expect(answer(FERN, facts, QUIET, [], NOW).detail).toContain('By reckoning 1,180\u00a0l')
  })
})

describe('figures and times', () => {
  it('are not known where nothing is known', () => {
    expect(quantity('volume', null, 'us')).toBe('not known')
    expect(quantity('temperature', Number.NaN, 'si')).toBe('not known')
    expect(quantity('volume', 0, 'us')).toBe('0\u00a0gal')
  })

  it('are the site’s own: day and time in its zone, whatever the reader’s', () => {
    expect(dateKey(Date.parse('2026-02-03T06:30:00Z'), 'America/Denver')).toBe('2026-02-02')
    expect(moment(NOW - 20 * HOUR, NOW, 'America/Denver')).toBe('Mon 2 Feb 18:05')
    expect(moment(NOW - 2 * HOUR, NOW, 'America/Denver')).toBe('12:05')
  })
})
