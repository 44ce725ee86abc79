import { createServer, type Server, type Socket } from 'node:net'
import { Aedes } from 'aedes'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { parseFault } from '../../simulators/fault.js'
import { type LiveOptions, runLive, siteTime } from '../../simulators/live.js'
import { START } from './watch.js'

type Published = {
  readonly topic: string
  readonly payload: string
  readonly qos: number
  readonly user: string | null
}

let server: Server
let broker: Aedes
let port = 0
let published: Published[] = []
const sockets = new Set<Socket>()

beforeEach(async () => {
  published = []
  const users = new Map<string, string>()
  broker = await Aedes.createBroker({
    authenticate: (client, user, password, done) => {
      users.set(client.id, `${user}/${password?.toString()}`)
      done(null, true)
    },
    authorizePublish: (client, packet, done) => {
      const user = users.get(client?.id ?? '') ?? null
      published.push({ topic: packet.topic, payload: String(packet.payload), qos: packet.qos, user })
      setTimeout(() => done(null), 2)
    },
  })
  server = createServer(broker.handle)
  server.on('connection', (socket) => {
    sockets.add(socket)
    socket.on('close', () => sockets.delete(socket))
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  const address = server.address()
  port = typeof address === 'object' && address !== null ? address.port : 0
})

afterEach(async () => {
  for (const socket of sockets) socket.destroy()
  await new Promise((resolve) => server.close(resolve))
  await new Promise<void>((resolve) => broker.close(() => resolve()))
})

/** A wall clock that the test moves; a turn of the boards follows within 50 ms of real time. */
function liveOptions(wall: { now: number }, more: Partial<LiveOptions> = {}): LiveOptions {
  return {
    site: 'juniper',
    seed: 1,
    startMs: START,
    speed: 60,
    wallStartMs: 1_000,
    wallNow: () => wall.now,
    broker: { url: `mqtt://127.0.0.1:${port}`, username: '{board}', password: 'open' },
    log: () => undefined,
    ...more,
  }
}

async function until(holds: () => boolean, what: string): Promise<void> {
  for (let tries = 0; tries < 400; tries++) {
    if (holds()) return
    await new Promise((resolve) => setTimeout(resolve, 20))
  }
  throw new Error(`not within 8 s: ${what}`)
}

const stampsOf = (board: string) => [
  ...new Set(
    published
      .filter(({ topic }) => topic === `water/juniper/${board}`)
      .map(({ payload }) => Number(/"bt":([\d.]+)/.exec(payload)?.[1])),
  ),
]

test('site time runs from the agreed beginning, so many times faster than the wall', () => {
  expect(siteTime({ startMs: START, wallStartMs: 5_000, speed: 600 }, 6_000)).toBe(START + 600_000)
})

test('each board publishes its own topic at QoS 1 under its own name, with the times of the site', async () => {
  const wall = { now: 1_000 }
  const stop = new AbortController()
  const done = runLive(liveOptions(wall), stop.signal)
  // Ten minutes of the site: 60 packs a board.
  wall.now = 11_000
  await until(() => stampsOf('tank-board').length === 60 && stampsOf('pump-board').length === 60, '60 packs a board')
  stop.abort()
  const result = await done
  expect(result.until).toBe(START + 600_000)
  expect(published.every(({ qos }) => qos === 1)).toBe(true)
  for (const { topic, user } of published) expect(user).toBe(`${topic.split('/')[2]}/open`)
  const stamps = stampsOf('pump-board')
  expect(stamps.every((stamp, i) => i === 0 || stamp > (stamps[i - 1] ?? 0))).toBe(true)
  expect(Math.min(...stamps)).toBeGreaterThanOrEqual(START / 1_000)
  expect(Math.max(...stamps)).toBeLessThan(START / 1_000 + 600)
})

test('what a broken connection did not acknowledge is sent again: nothing is lost', async () => {
  const wall = { now: 1_000 }
  const stop = new AbortController()
  const done = runLive(liveOptions(wall), stop.signal)
  wall.now = 11_000
  await until(() => published.length > 60, 'a third of the packs')
  for (const socket of sockets) socket.destroy()
  wall.now = 21_000
  await until(() => stampsOf('tank-board').length === 120 && stampsOf('pump-board').length === 120, '120 packs a board')
  await until(() => published.length >= 360, 'all')
  stop.abort()
  await done
})

test('while the link of a site is down its boards are not connected, and bring their packs later', async () => {
  const wall = { now: 1_000 }
  const stop = new AbortController()
  const faults = [parseFault('site-silent:mild@5m', START)]
  const done = runLive(liveOptions(wall, { faults }), stop.signal)
  wall.now = 6_000
  await until(() => published.length === 90, 'five minutes of packs')
  // Thirty minutes of the site within the outage.
  wall.now = 36_000
  await until(() => sockets.size === 0, 'boards off the broker')
  expect(published).toHaveLength(90)
  wall.now = 51_000
  await until(
    () => ['tank-board', 'pump-board', 'house-board'].every((board) => stampsOf(board).length === 300),
    'fifty minutes of packs',
  )
  stop.abort()
  const { dropped } = await done
  expect(dropped).toBe(0)
})
