import { describe, expect, it } from 'vitest'
import { openWays } from '../../src/tell/ways/index.js'
import { wayAddress } from '../../src/tell/way-book.js'
import { AFTERNOON, message, siteSettings, tellSettings, TOPIC } from './support.js'

const site = siteSettings({
  tell: tellSettings({ ways: [TOPIC, { kind: 'web-push', id: 'push-1', contact: 'mailto:a@example.org' }] }),
})
const signal = new AbortController().signal

type Published = { readonly topic: string; readonly payload: string; readonly retain: boolean }

function open(fail: Error | null = null) {
  const published: Published[] = []
  const ways = openWays([site], {
    now: () => AFTERNOON,
    publish: async (topic, payload, { retain }) => {
      if (fail !== null) throw fail
      published.push({ topic, payload, retain })
    },
  })
  const send = (way: string) => ways.get(wayAddress('juniper', way))?.send(message(), signal)
  return { published, send }
}

describe('telling by MQTT', () => {
  it('publishes the message as JSON to its topic, not retained', async () => {
    const { published, send } = open()
    expect(await send('mqtt-1')).toEqual({ ok: true })
    expect(published.map(({ topic, retain }) => [topic, retain])).toEqual([['told/juniper', false]])
    expect(JSON.parse(published[0]?.payload ?? '')).toMatchObject({ version: 1, alarm: 'dry-well:', priority: 'high' })
  })

  it('is tried again when the broker does not take it', async () => {
    expect(await open(new Error('not connected')).send('mqtt-1')).toMatchObject({
      ok: false,
      retry: true,
      wholeWay: true,
      error: 'MQTT: not connected',
    })
  })
})
