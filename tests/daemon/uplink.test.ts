/** A place and town, with a link between them that can be cut: both ends of the uplink on one simulated clock. */
import { describe, expect, it } from 'vitest'
import { simulate } from '../../simulators/simulate.js'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { createFramer } from '../../src/daemon/uplink/framer.js'
import { createUplink, type Uplink } from '../../src/daemon/uplink/sender.js'
import { type Notice, atLeast } from '../../src/model/alarm.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import type { Arrival } from '../../src/model/sample.js'
import type { SiteSettings, UplinkSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../src/model/time.js'
import { openStore, type Store } from '../../src/record/store.js'
import { settingsOf } from '../scenario/detection/run-case.js'
import { SILENT_LOG } from '../tell/support.js'

const START = Date.UTC(2026, 4, 4, 7)
const LOG = { ...SILENT_LOG, debug() {} }
const SETTINGS: UplinkSettings = {
  everyS: 300,
  monthBytes: 10e6,
  url: 'mqtt://town.example.org',
  username: null,
  password: null,
  clientId: 'juniper-uplink',
  caFile: null,
}

type Told = { readonly at: Ms; readonly notice: Notice }
type Options = {
  readonly days: number
  readonly cut?: (at: Ms) => boolean
  readonly settings?: UplinkSettings
  /** Called at each step of the clock with the place's uplink; answers another one for a daemon that was restarted. */
  readonly restart?: (at: Ms) => boolean
}

async function live({ days, cut = () => false, settings = SETTINGS, restart = () => false }: Options) {
  const juniper = settingsOf('juniper')
  const place = end(juniper)
  const town = end(juniper)
  const clock = { at: START, now: () => clock.at }
  const mail: Arrival[] = []
  const carry = async (topic: string, payload: Buffer): Promise<void> => {
    if (cut(clock.at)) throw new Error('the link is cut')
    mail.push({ at: clock.at, topic, payload: Buffer.from(payload), retain: false })
  }
  const open = (): Uplink =>
    createUplink({
      settings,
      store: place.store,
      framer: createFramer(place.store, place.line),
      carry,
      clock,
      log: LOG,
    })
  let uplink = open()
  const order: Ms[] = []
  // A place sends up what comes after its uplink is there.
  await uplink.tick()
  const simulation = simulate({ site: 'juniper', seed: 3, startMs: START, days })
  const arrivals = function* (): Generator<Arrival> {
    for (const { at, topic, payload } of simulation.messages)
      yield { at, topic, payload: Buffer.from(payload), retain: false }
  }
  await drive(place.line, arrivals(), {
    onStep: async (now) => {
      clock.at = now
      if (restart(now)) uplink = open()
      await uplink.tick()
      for (const message of mail) order.push(message.at)
      town.line.receive(mail.splice(0))
      town.line.step(now, () => DAEMON_WELL)
      town.at = now
      if (now % DAY === 0) for (const { store } of [place, town]) while (store.sealDue(now)) store.seal(now)
    },
  })
  // The last piece goes up too.
  clock.at += 10 * MINUTE
  await uplink.tick()
  town.line.receive(mail.splice(0))
  town.line.finish(clock.at)
  return { place, town, uplink, order }
}

function end(site: SiteSettings) {
  const store = openStore({ file: ':memory:', now: START })
  const told: Told[] = []
  const self = { store, told, at: START as Ms, line: null as unknown as Line }
  self.line = new Line({
    sites: [site],
    store,
    log: LOG,
    judging: true,
    link: () => null,
    events: { onNotices: (_, notices) => told.push(...notices.map((notice) => ({ at: self.at, notice }))) },
  })
  return self
}

function derived(store: Store) {
  return {
    cycles: store.cycles.list('juniper', 0, Number.MAX_SAFE_INTEGER, 10_000),
    days: store.days.list('juniper', '0000', '9999'),
  }
}

describe('a second daemon in town', () => {
  it('finds the same fills and days as the place, raises nothing of its own, and costs under 10 MB a month', async () => {
    const { place, town, uplink } = await live({ days: 5 })
    expect(derived(town.store).cycles.length).toBeGreaterThan(3)
    expect(derived(town.store)).toEqual(derived(place.store))
    expect(town.told.map(({ notice }) => notice.alarm.key)).toEqual(place.told.map(({ notice }) => notice.alarm.key))
    const { monthBytes, waiting } = uplink.state()
    expect(waiting).toBe(0)
    expect((monthBytes / 5) * 30.4).toBeLessThan(10e6)
    expect(monthBytes).toBeGreaterThan(100_000)
    process.stderr.write(`uplink: ${((monthBytes / 5 / 1e6) * 30.4).toFixed(2)} MB a month\n`)
  })

  it('notices within the hour that the place is silent, and after 3 days of it has everything, with no alarm for what is long past', async () => {
    const from = START + 3 * DAY + 5 * HOUR
    const until = from + 3 * DAY
    const { place, town, order } = await live({ days: 7, cut: (at) => at >= from && at < until })
    const silent = town.told.filter(({ notice }) => notice.alarm.id === 'site-silent')
    expect(silent.map(({ notice }) => notice.reason)).toEqual(['raised', 'cleared'])
    expect((silent[0]?.at ?? 0) - from).toBeLessThan(HOUR)
    expect((silent[1]?.at ?? 0) - until).toBeLessThan(HOUR)
    const others = town.told.filter(({ notice }) => notice.alarm.id !== 'site-silent')
    expect(others.filter(({ notice }) => atLeast(notice.alarm.priority, 'medium'))).toEqual([])
    expect(derived(town.store)).toEqual(derived(place.store))
    // While it lasted nothing came; then what is so now came first.
    expect(order.filter((at) => at >= from && at < until)).toEqual([])
  })

  it('misses nothing when the daemon at the place is started anew at any time', async () => {
    const { place, town } = await live({ days: 3, restart: (at) => at % (7 * MINUTE) === 0 })
    expect(derived(town.store)).toEqual(derived(place.store))
  })

  it('still finds the same fills when the bytes of the month are nearly used up: only what they do not rest on is thinned', async () => {
    const full = await live({ days: 4 })
    const thin = await live({ days: 4, settings: { ...SETTINGS, monthBytes: 1 } })
    expect(thin.uplink.state().economy).toBe('thinned')
    expect(derived(thin.town.store).cycles).toEqual(derived(thin.place.store).cycles)
    expect(thin.uplink.state().monthBytes).toBeLessThan(0.7 * full.uplink.state().monthBytes)
  })
})
