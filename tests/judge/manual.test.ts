import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { ALARM_SPECS } from '../../src/model/alarm-settings.js'
import { ALARM_IDS } from '../../src/model/alarm.js'
import { ALARM_DEFINITIONS } from '../../src/judge/alarms/index.js'
import { numbersOf } from '../../src/judge/definition.js'
import { alarmManual } from '../../src/judge/manual.js'
import { aSite } from './facts.js'

describe('the manual of the alarms', () => {
  it('is current: `npx tsx config/tooling/alarm-docs.ts` writes it anew', () => {
    expect(readFileSync(new URL('../../docs/alarms.md', import.meta.url), 'utf8')).toBe(alarmManual())
  })

  it('has a section for every alarm that is judged, with every setting and every cause', () => {
    const text = alarmManual()
    for (const { id, causes } of ALARM_DEFINITIONS) {
      const section = text.split(`\n## ${id}\n`)[1]?.split('\n## ')[0] ?? ''
      for (const name of Object.keys(ALARM_SPECS[id].numbers)) expect(section).toContain(`| \`${name}\` |`)
      for (const cause of Object.keys(causes)) expect(section).toContain(`| \`${cause}\` |`)
      expect(section).toContain(`Priority: ${ALARM_SPECS[id].priority}`)
    }
  })
})

describe('the table of settings', () => {
  it('gives the priorities of the contract', () => {
    // Contract, section 5.
    const critical = ['pump-stalled', 'overfill', 'freezing', 'store-failing']
    const high =
      'dry-well no-rise pump-no-start tank-low battery-low battery-cold-charge freeze-risk site-silent telling-failing'.split(
        ' ',
      )
    const low = ['yield-falling', 'energy-rising', 'battery-not-full', 'stale-water']
    for (const id of ALARM_IDS) {
      const expected = critical.includes(id)
        ? 'critical'
        : high.includes(id)
          ? 'high'
          : low.includes(id)
            ? 'low'
            : 'medium'
      expect([id, ALARM_SPECS[id].priority]).toEqual([id, expected])
    }
  })

  it('what the owner sets takes the place of the default, one by one', () => {
    expect(numbersOf('battery-low', aSite())).toEqual({
      deadband: 0.01,
      time_to_cut_off: 10_800,
      stop_counts_for: 1_800,
    })
    expect(numbersOf('battery-low', aSite({ 'battery-low': { numbers: { time_to_cut_off: 600 } } }))).toEqual({
      deadband: 0.01,
      time_to_cut_off: 600,
      stop_counts_for: 1_800,
    })
  })

  it('no alarm is listed twice, and each is one of the contract', () => {
    const ids = ALARM_DEFINITIONS.map(({ id }) => id)
    expect(new Set(ids).size).toBe(ids.length)
    for (const id of ids) expect(ALARM_IDS).toContain(id)
  })
})
