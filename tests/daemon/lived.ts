/** A daemon that lives through hours in seconds: real brokers, mail and web servers, and a clock that the test moves. */
import mqtt, { type MqttClient } from 'mqtt'
import { onTestFinished } from 'vitest'
import type { Clock } from '../../src/runtime/clock.js'
import { SECOND } from '../../src/model/time.js'
import type { Running } from './running.js'

export type CoarseClock = Clock & {
  /** Moves on and fires once whatever has fallen due: as on a machine that was busy, timers come late, never early. */
  move(ms: number): void
}

/** Timers fire at the end of a move, so that a night of one-second rounds costs what its moves cost. */
export function coarseClock(start: number): CoarseClock {
  let now = start
  const timers = new Set<{ readonly at: number; readonly run: () => void }>()
  return {
    now: () => now,
    monotonic: () => performance.now(),
    chance: () => 0.5,
    after(ms, run) {
      const timer = { at: now + ms, run }
      timers.add(timer)
      return () => timers.delete(timer)
    },
    move(ms) {
      now += ms
      for (const timer of [...timers].filter(({ at }) => at <= now).sort((a, b) => a.at - b.at)) {
        if (timers.delete(timer)) timer.run()
      }
    },
  }
}

export type Record = readonly [key: string, unit: string, value: number]
/** What a board reads at an instant; null: it is silent. */
export type BoardLife = (at: number) => readonly Record[] | null

export type Acts = { readonly at: number; readonly act: () => Promise<void> }

export const STEP_MS = 30 * SECOND
const WAIT_MS_MAX = 10_000

/** Connects as an account of the daemon's own broker. */
export async function asAccount(port: number, username: string, password: string): Promise<MqttClient> {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${port}`, {
    username,
    password,
    clientId: username,
    reconnectPeriod: 0,
    keepalive: 600,
  })
  onTestFinished(() => void client.end(true))
  return client
}

/** Waits, in real time, until nothing that is due is still on its way out. */
async function told({ daemon }: Running, now: number): Promise<void> {
  const end = performance.now() + WAIT_MS_MAX
  while (daemon.store.outbox.due(now, 1).length > 0) {
    if (performance.now() > end) throw new Error('a message that is due did not leave')
    await new Promise((resolve) => setTimeout(resolve, 2))
    await daemon.teller.tick(now)
  }
}

export type LifeOptions = {
  readonly running: Running
  readonly clock: CoarseClock
  readonly until: number
  readonly boards: readonly { readonly client: MqttClient; readonly topic: string; readonly reads: BoardLife }[]
  /** What people do, each at its instant. */
  readonly acts?: readonly Acts[]
}

/** Lives in steps of 30 s: boards publish, the clock moves, what is due is told. */
export async function live({ running, clock, until, boards, acts = [] }: LifeOptions): Promise<void> {
  const left = [...acts].sort((a, b) => a.at - b.at)
  while (clock.now() < until) {
    const at = clock.now()
    for (const { client, topic, reads } of boards) {
      const records = reads(at)
      if (records === null) continue
      const pack = records.map(([n, u, v]) => ({ n, u, v, t: at / SECOND }))
      await client.publishAsync(topic, JSON.stringify(pack), { qos: 1 })
    }
    clock.move(STEP_MS)
    await new Promise((resolve) => setImmediate(resolve))
    await told(running, clock.now())
    for (let next = left[0]; next !== undefined && next.at <= clock.now(); next = left[0]) {
      left.shift()
      await next.act()
    }
  }
}
