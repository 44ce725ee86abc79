import { describe, expect, it } from 'vitest'
import type { Alarm } from '../../src/model/alarm.js'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { escalations } from '../../src/tell/escalate.js'
import { AFTERNOON, alarm, siteSettings, tellSettings } from './support.js'

const site = siteSettings({
  tell: tellSettings({
    people: [
      { name: 'ops', ways: ['mail-1'], quiet: null, least: 'low' },
      { name: 'neighbour', ways: ['hook-1', 'mqtt-1'], quiet: [22 * 60, 7 * 60], least: 'critical' },
    ],
    escalate: { afterS: 1_200, to: ['neighbour'] },
  }),
})

const raised = alarm().raised
function told(active: Partial<Alarm>, now = raised + 20 * MINUTE, already: readonly string[] = []) {
  return escalations([alarm(active)], site, now, { link: () => null, alreadyTold: (key) => already.includes(key) })
}

describe('an alarm that nobody answers', () => {
  it('is told to the next person by each of their ways when its time is up, not before', () => {
    expect(told({}, raised + 20 * MINUTE - 1)).toEqual([])
    const messages = told({})
    expect(messages.map(({ person, way }) => `${person} ${way}`)).toEqual(['neighbour hook-1', 'neighbour mqtt-1'])
    expect(messages[0]?.subject).toBe('Not answered: The pump runs and no water arrives')
    expect(messages[0]?.text).toContain('nobody has acknowledged it')
  })

  it('is told to them once for each occurrence', () => {
    const keys = told({}).map(({ key }) => key)
    expect(told({}, raised + 3 * HOUR, keys)).toEqual([])
    expect(told({}, raised + 3 * HOUR).map(({ key }) => key)).toEqual(keys)
    expect(told({ raised: raised + HOUR }, raised + 3 * HOUR, keys)).toHaveLength(2)
  })

  it.each<[string, Partial<Alarm>]>([
    ['acknowledged', { state: 'acknowledged', acknowledgedAt: raised + MINUTE, acknowledgedBy: 'ops' }],
    ['over', { state: 'returned-unacknowledged', cleared: raised + MINUTE }],
    ['shelved', { state: 'shelved' }],
    ['suppressed', { state: 'suppressed' }],
    ['explained by another', { explainedBy: 'battery-low:' }],
    ['of medium priority', { priority: 'medium' }],
  ])('stays with the first when it is %s', (_, changes) => {
    expect(told(changes)).toEqual([])
  })

  it('does not wake the next person unless it is critical, and reaches them in the morning if it still stands', () => {
    const night = Date.UTC(2026, 1, 4, 9) // 02:00
    expect(told({ raised: night }, night + HOUR)).toEqual([])
    expect(told({ raised: night, priority: 'critical' }, night + HOUR)).toHaveLength(2)
    expect(told({ raised: night }, night + 5 * HOUR)).toHaveLength(2)
  })

  it('goes no further where no second person is configured', () => {
    const alone = siteSettings()
    const options = { link: () => null, alreadyTold: () => false }
    expect(escalations([alarm()], alone, AFTERNOON + 5 * HOUR, options)).toEqual([])
  })
})
