/** A night at a place, told to people in town: real MQTT, SMTP and HTTP at every end, and a clock that hours pass on. */
import { describe, expect, it, onTestFinished } from 'vitest'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { freePort } from '../support/free-port.js'
import { hookSink } from '../support/hook-sink.js'
import { mailSink } from '../support/mail-sink.js'
import { asAccount, coarseClock, live } from './lived.js'
import { runDaemon } from './running.js'

/** Sat 7 Mar 2026, 20:00 in Denver. At 02:00 of that night the clock is set to 03:00 (tz database, America/Denver). */
const EVENING = Date.UTC(2026, 2, 8, 3)
/** The wall clock of the place, as hours after that midnight: before 2 it is UTC-7, from 3 on UTC-6. */
const wall = (hour: number, minute = 0): number =>
  Date.UTC(2026, 2, 8) + (hour < 2 ? hour + 7 : hour + 6) * HOUR + minute * MINUTE
const evening = (hour: number, minute = 0): number => wall(hour - 24, minute)

type Told = { readonly at: number; readonly subject: string; readonly text: string; readonly kind?: unknown }

function plain(mail: string): string {
  return mail
    .replace(/=\r\n/g, '')
    .replace(/=([0-9A-F]{2})/g, (_all, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)))
}
function subjectOf(mail: string): string {
  return (/^Subject: (.*(?:\r\n[ \t].*)*)/m.exec(mail)?.[1] ?? '').replace(/\r\n[ \t]/g, ' ')
}

/** Things that come to an end as they are heard, with the simulated time at which they were. */
function follow(now: () => number) {
  const told: Told[] = []
  return {
    told,
    /** Takes up what has come since it was last called. */
    take(all: readonly { readonly subject: string; readonly text: string; readonly kind?: unknown }[]) {
      for (const one of all.slice(told.length)) told.push({ ...one, at: now() })
    },
  }
}

describe('a night on which the clock is set', () => {
  it('is told once, surely, and in time', { timeout: 120_000 }, async () => {
    const clock = coarseClock(EVENING)
    const mail = await mailSink()
    const hook = await hookSink()
    onTestFinished(() => {
      mail.close()
      hook.close()
    })
    const running = await runDaemon(
      {
        site: { id: 'juniper', name: 'Juniper Bench', timezone: 'America/Denver' },
        boards: {
          'pump-board': {
            expect_every: '30 s',
            signals: { 'pump-current': {}, 'tank-level': {}, 'battery-voltage': {} },
          },
          'weather-board': { expect_every: '30 s', signals: { 'air-temperature': {} } },
        },
        tank: {
          shape: { 'upright-cylinder': { diameter: '1.24 m', height: '1.8 m' } },
          low_mark: '0.9 m',
          high_mark: '1.07 m',
          reserve: '400 l',
        },
        pump: { nominal_voltage: '24 V', running_current: '3 A' },
        battery: { chemistry: 'lifepo4', nominal_voltage: '24 V', capacity: '100 Ah' },
        page: { open_on_loopback: true, address: 'https://juniper.example' },
        accounts: {
          'pump-board': { role: 'board', secret_file: 'pump' },
          'weather-board': { role: 'board', secret_file: 'weather' },
          ops: { role: 'owner', secret_file: 'ops' },
        },
        tell: {
          people: [
            { name: 'ops', ways: ['mail'], quiet: '22:00-07:00', least: 'medium' },
            { name: 'neighbour', ways: ['hook'], least: 'critical' },
            { name: 'lamp', ways: ['lamp'], least: 'medium' },
          ],
          ways: {
            mail: {
              kind: 'email',
              smtp: { host: '127.0.0.1', port: mail.port, secure: false },
              from: 'water@juniper.example',
              to: 'ops@town.example',
            },
            hook: { kind: 'webhook', url: hook.url, secret_file: 'hook' },
            lamp: { kind: 'mqtt', topic: 'water/juniper/told' },
          },
          escalate: { after: '20 min', to: ['neighbour'] },
          digest: { at: '07:00', to: ['ops'] },
          self_test: 'never',
        },
      },
      {
        clock,
        files: { pump: 'sage', weather: 'flax', ops: 'lupine', hook: 'a key of our own' },
        broker: { embedded: { host: '127.0.0.1', port: await freePort(), anonymous: false } },
      },
    )

    const lampSaid: { subject: string; text: string; kind: unknown }[] = []
    const reader = await asAccount(running.port, 'ops', 'lupine')
    reader.on('message', (_topic, payload) => {
      lampSaid.push(JSON.parse(payload.toString('utf8')) as (typeof lampSaid)[number])
    })
    await reader.subscribeAsync('water/juniper/told', { qos: 1 })

    const ops = follow(() => clock.now())
    const neighbour = follow(() => clock.now())
    const lamp = follow(() => clock.now())
    const listen = () => {
      ops.take(mail.mails.map((text) => ({ subject: subjectOf(text), text: plain(text) })))
      neighbour.take(
        hook.bodies.map(({ subject, text, kind }) => ({ subject: String(subject), text: String(text), kind })),
      )
      lamp.take(lampSaid)
    }

    /** Follows the link of the newest mail as a scanner does, then as a thumb does. */
    const acknowledge = async () => {
      listen()
      const [, token] = /https:\/\/juniper\.example\/ack\/([\w.-]+)/.exec(ops.told.at(-1)?.text ?? '') ?? []
      const address = `${running.page}ack/${token}`
      const open = async () => JSON.stringify(await (await fetch(`${running.page}api/alarms`)).json())
      const before = await open()
      const shown = await fetch(address)
      expect(shown.status).toBe(200)
      expect(await shown.text()).toContain('<button')
      expect(await open()).toBe(before)
      const acted = await fetch(address, { method: 'POST' })
      expect(acted.status).toBe(200)
      expect(await open()).toContain('"acknowledged_by":"ops"')
      expect((await fetch(address, { method: 'POST' })).status).toBe(200)
    }

    const low = (at: number) => at >= evening(20, 30) && at < evening(22, 40)
    const silent = (at: number) => at >= evening(23, 30) && at < wall(0, 40)
    const held = (at: number) => at >= wall(1, 50) && at < wall(5, 0)
    /** Somebody has freed the rotor: the pump fills the tank as it should. */
    const fills = (at: number) => at >= wall(5, 10) && at < wall(5, 50)
    const filled = (at: number) => Math.min(1, Math.max(0, (at - wall(5, 10)) / (40 * MINUTE)))
    await live({
      running,
      clock,
      until: wall(9),
      boards: [
        {
          client: await asAccount(running.port, 'pump-board', 'sage'),
          topic: 'water/juniper/pump-board',
          reads: (at) => {
            listen()
            return [
              ['pump-current', 'A', held(at) ? 9 : fills(at) ? 3 : 0],
              ['tank-level', 'm', 0.9 + 0.17 * filled(at)],
              [
                'battery-voltage',
                'V',
                (low(at) ? 22.4 : held(at) || fills(at) ? 25.7 : 26.4) + 0.02 * Math.sin(at / 7_000),
              ],
            ]
          },
        },
        {
          client: await asAccount(running.port, 'weather-board', 'flax'),
          topic: 'water/juniper/weather-board',
          reads: (at) => (silent(at) ? null : [['air-temperature', 'Cel', 8 + Math.sin(at / HOUR)]]),
        },
      ],
      acts: [
        { at: evening(21, 10), act: acknowledge },
        { at: wall(4, 20), act: acknowledge },
      ],
    })
    listen()

    // What must arrive, and when: [not before, not after, subject].
    expectTold(ops.told, [
      [evening(20, 30), evening(20, 33), 'Juniper Bench: Battery is low'],
      [wall(1, 50), wall(1, 52), 'Juniper Bench: Pump is jammed: heavy current, no water'],
      // An hour after the first, unanswered: the lost hour of the wall clock makes it 03:50.
      [wall(3, 50), wall(3, 53), 'Still: Pump is jammed: heavy current, no water'],
      [wall(7), wall(7, 1), 'Juniper Bench: 3 messages (3 cleared)'],
    ])
    expectTold(neighbour.told, [
      [evening(20, 50), evening(20, 53), 'Not answered: Juniper Bench: Battery is low'],
      [evening(22, 45), evening(22, 55), 'Over: Juniper Bench: Battery is low'],
      [wall(1, 50), wall(1, 52), 'Juniper Bench: Pump is jammed: heavy current, no water'],
      [wall(3, 10), wall(3, 13), 'Not answered: Pump is jammed: heavy current, no water'],
      [wall(3, 50), wall(3, 53), 'Still: Pump is jammed: heavy current, no water'],
      [wall(5, 10), wall(5, 25), 'Over: Juniper Bench: Pump is jammed: heavy current, no water'],
    ])
    expectTold(lamp.told, [
      [evening(20, 30), evening(20, 33), 'Juniper Bench: Battery is low'],
      [evening(22, 45), evening(22, 55), 'Over: Juniper Bench: Battery is low'],
      [evening(23, 34), evening(23, 37), 'Juniper Bench: Nothing heard from board weather-board'],
      [wall(0, 40), wall(0, 50), 'Over: Juniper Bench: Nothing heard from board weather-board'],
      [wall(1, 50), wall(1, 52), 'Juniper Bench: Pump is jammed: heavy current, no water'],
      [wall(3, 50), wall(3, 53), 'Still: Pump is jammed: heavy current, no water'],
      [wall(5, 10), wall(5, 25), 'Over: Juniper Bench: Pump is jammed: heavy current, no water'],
    ])
    // The digest: a line for each, crossed out, in the order of the night, in the new time.
    const morning = ops.told.at(-1)?.text ?? ''
    const gone = [...morning.matchAll(/<li><s>([^<]*)<\/s><\/li>/g)].map(([, words]) => words)
    expect(gone).toEqual([
      'Over: Battery is low (Sat 7 Mar 22:40)',
      expect.stringMatching(/^Cleared: Nothing heard from board weather-board, Sat 7 Mar 23:\d\d to Sun 8 Mar 00:4\d$/),
      expect.stringMatching(/^Over: Pump is jammed: heavy current, no water \(Sun 8 Mar 05:1\d\)$/),
    ])
    expect(morning).toContain('America/Denver (MDT)')
    // The mails of alarms have their picture; who answered stands with the alarm, in the store and for all to see.
    expect(ops.told[0]?.text).toContain('image/png')
    const rows = running.daemon.store.alarms.list('juniper', 0, clock.now())
    expect(rows.map(({ id, acknowledgedBy }) => `${id} ${acknowledgedBy}`)).toEqual(
      expect.arrayContaining(['battery-low ops', 'board-silent null', 'pump-stalled ops']),
    )
    expect(running.daemon.store.outbox.counts()).toMatchObject({ waiting: 0, failed: 0 })
    expect(running.log.filter(({ level }) => level === 'error')).toEqual([])
  })
})

type Wanted = readonly [notBefore: number, notAfter: number, subject: string]

/** Everything wanted in its time, in this order, and nothing else. */
function expectTold(told: readonly Told[], wanted: readonly Wanted[]): void {
  expect(told.map(({ subject }) => subject)).toEqual(wanted.map(([, , subject]) => subject))
  for (const [index, [notBefore, notAfter, subject]] of wanted.entries()) {
    const at = told[index]?.at ?? 0
    const when = `${subject} at ${new Date(at).toISOString()}`
    expect(at, when).toBeGreaterThanOrEqual(notBefore)
    expect(at, when).toBeLessThanOrEqual(notAfter)
  }
}
