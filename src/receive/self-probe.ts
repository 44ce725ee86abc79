import { randomUUID } from 'node:crypto'
import mqtt from 'mqtt'
import type { Timers } from './receiver.js'

/** Client ids that begin so are the program's own; nobody else may use one. */
export const OWN_CLIENT_PREFIX = '$'
export const PROBE_TOPIC = '$probe'

export type ProbeTarget = { readonly host: string; readonly port: number; readonly tls: boolean }

/** Tokens under way, by which the broker's hook tells that a probe has come through. */
export type Tokens = { expect(token: string): void; seen(token: string): void; take(token: string): boolean }

export function createTokens(): Tokens {
  const open = new Map<string, boolean>()
  return {
    expect: (token) => open.set(token, false),
    seen(token) {
      if (open.has(token)) open.set(token, true)
    },
    take(token) {
      const came = open.get(token) === true
      open.delete(token)
      return came
    },
  }
}

/**
 * One probe: a client of our own connects over real TCP (and TLS), publishes a token at QoS 1, must be acknowledged,
 * and the token must have passed the hook through which every board's message comes. Null when all of it worked
 * within the deadline, else what did not.
 */
export function probeOnce(
  target: ProbeTarget,
  account: { readonly name: string; readonly secret: Buffer },
  tokens: Tokens,
  deadlineMs: number,
  timers: Timers,
): Promise<string | null> {
  const token = randomUUID()
  tokens.expect(token)
  return new Promise((resolve) => {
    const client = mqtt.connect({
      host: target.host,
      port: target.port,
      protocol: target.tls ? 'mqtts' : 'mqtt',
      // It is our own certificate, made for whatever name the boards know this machine by.
      rejectUnauthorized: false,
      clientId: `${OWN_CLIENT_PREFIX}probe-${token}`,
      username: account.name,
      password: account.secret,
      reconnectPeriod: 0,
      connectTimeout: deadlineMs,
      keepalive: 30,
    })
    let over = false
    const finish = (trouble: string | null): void => {
      if (over) return
      over = true
      stop()
      const came = tokens.take(token)
      client.end(true)
      resolve(trouble ?? (came ? null : 'acknowledged, but not seen by the receiver'))
    }
    const stop = timers.after(deadlineMs, () => finish('no acknowledgement in time'))
    // Errors also come while the client is being ended; the first is what counts.
    client.on('error', (error) => finish(error.message === '' ? String(error) : error.message))
    client.on('close', () => finish('the connection was closed'))
    client.on('connect', () =>
      client.publish(PROBE_TOPIC, token, { qos: 1 }, (error) => finish(error instanceof Error ? error.message : null)),
    )
  })
}
