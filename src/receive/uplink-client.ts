/**
 * A client of the broker in town, for what this place sends up. Each publish is QoS 1 and resolves when it has been
 * acknowledged; nothing waits in the library, since the store keeps what has not gone yet.
 */
import { readFileSync } from 'node:fs'
import mqtt, { type MqttClient } from 'mqtt'
import { LIMITS } from '../model/limits.js'
import type { UplinkSettings } from '../model/settings.js'
import { systemTimers, type Timers } from './receiver.js'
import { calledBackWithin, doneWithin } from './waiting.js'

export type UplinkClient = {
  /** Rejects when there is no connection, or no acknowledgement in time; the connection is then made anew. */
  carry(topic: string, payload: Buffer): Promise<void>
  close(): Promise<void>
}

export type UplinkClientOptions = {
  readonly settings: UplinkSettings
  readonly timers?: Timers
  readonly deadlineMs?: number
}

/** Frames themselves keep the connection alive; a ping in between would cost more than they do. */
const KEEPALIVE_S = 900

export function createUplinkClient({
  settings,
  timers = systemTimers,
  deadlineMs = LIMITS.uplinkDeadlineMs,
}: UplinkClientOptions): UplinkClient {
  let client: MqttClient | null = null
  let closed = false
  /** What hangs on the present connection, to be told when it is lost: the library alone would wait for the next. */
  const hanging = new Set<(error: Error) => void>()

  function make(): MqttClient {
    const one = mqtt.connect(settings.url, {
      clientId: settings.clientId,
      clean: true,
      keepalive: KEEPALIVE_S,
      connectTimeout: LIMITS.connectTimeoutMs,
      // A lost connection is made anew at the next frame.
      reconnectPeriod: 0,
      queueQoSZero: false,
      ...(settings.username === null ? {} : { username: settings.username }),
      ...(settings.password === null ? {} : { password: settings.password }),
      ...(settings.caFile === null ? {} : { ca: readFileSync(settings.caFile) }),
    })
    one.on('close', () => {
      if (client === one) client = null
      for (const fail of hanging) fail(new Error('the connection was lost'))
      hanging.clear()
    })
    return one
  }

  /** A connection that is up; the library's own errors come as rejections. */
  async function connected(): Promise<MqttClient> {
    if (client?.connected === true) return client
    client?.end(true)
    const one = make()
    client = one
    await new Promise<void>((resolve, reject) => {
      one.once('connect', () => resolve())
      one.on('error', reject)
      one.once('close', () => reject(new Error('the broker closed the connection')))
    })
    return one
  }

  async function carry(topic: string, payload: Buffer): Promise<void> {
    if (closed) throw new Error('stopped')
    try {
      await calledBackWithin(
        (done) => {
          connected().then(
            (one) => {
              hanging.add(done)
              one.publish(topic, payload, { qos: 1 }, (error) => {
                hanging.delete(done)
                done(error ?? null)
              })
            },
            (error: unknown) => done(error instanceof Error ? error : new Error(String(error))),
          )
        },
        deadlineMs,
        timers,
        'the uplink',
      )
    } catch (error) {
      client?.end(true)
      client = null
      throw error
    }
  }

  return {
    carry,
    async close() {
      closed = true
      const one = client
      client = null
      if (one === null) return
      if (one.connected) await doneWithin(one.endAsync(), LIMITS.closeWaitMs, timers)
      one.end(true)
    },
  }
}
