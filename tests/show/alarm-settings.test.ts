import { describe, expect, it } from 'vitest'
import { ALARM_DEFINITIONS } from '../../src/judge/alarms/index.js'
import { ALARM_SPECS } from '../../src/model/alarm-settings.js'
import type { AlarmSettingsBody } from '../../src/show/bodies/alarm-settings.js'
import { settingWords } from '../../src/show/page/alarm-list.js'
import { createFakeApp } from './fake-app.js'
import { JUNIPER } from './fake-site.js'
import { createFakeSource } from './fake-source.js'

describe('GET /api/alarms/settings', () => {
  it('gives every judged alarm with each of its settings, what is configured beside the default', async () => {
    const set = {
      enabled: null,
      priority: 'critical' as const,
      onDelayS: 90,
      offDelayS: null,
      numbers: { light_ratio: 0.7 },
    }
    const off = { enabled: false, priority: null, onDelayS: null, offDelayS: null, numbers: {} }
    const alarms = { 'dry-well': set, leak: off }
    const { app } = createFakeApp({ source: createFakeSource([{ ...JUNIPER, alarms }]) })
    const body = (await app.inject('/api/alarms/settings')).json() as AlarmSettingsBody
    await app.close()
    expect(body.alarms.map(({ id }) => id)).toEqual(ALARM_DEFINITIONS.map(({ id }) => id))
    for (const { id, settings } of body.alarms) {
      expect(settings.map(({ name }) => name)).toEqual([
        'on_delay',
        'off_delay',
        ...Object.keys(ALARM_SPECS[id].numbers),
      ])
    }
    const dry = body.alarms.find(({ id }) => id === 'dry-well')
    expect(dry).toMatchObject({ enabled: true, priority: 'critical', priority_default: 'high' })
    expect(dry?.settings.filter(({ configured }) => configured)).toMatchObject([
      { name: 'on_delay', value: 90, default: 60 },
      { name: 'light_ratio', value: 0.7, default: 0.8 },
    ])
    expect(body.alarms.find(({ id }) => id === 'leak')?.enabled).toBe(false)
  })

  it('has its figures in words of the site’s units', () => {
    expect(settingWords('duration', 720, 'us')).toBe('12\u00a0min')
    expect(settingWords('ratio', 0.75, 'us')).toBe('0.75')
    expect(settingWords('count', 3, 'us')).toBe('3')
    expect(settingWords('volume', 3.785411784, 'us')).toBe('1\u00a0gal')
    expect(settingWords('temperature', 0, 'si')).toBe('0.0\u00a0°C')
  })
})
