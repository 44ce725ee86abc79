/**
 * Sends kept frames to town, one at a time, each until it is acknowledged. After a cut the newest goes first, so that
 * town knows at once what is so; then what waits, the oldest first. When most of the month's bytes are used up frames
 * are made more seldom, and then thinned; they never stop.
 */
import type { UplinkSettings } from '../../model/settings.js'
import { MINUTE, type Ms, SECOND } from '../../model/time.js'
import { uplinkTopic } from '../../model/uplink.js'
import type { Store } from '../../record/store.js'
import type { UplinkFrame } from '../../record/uplink-queue.js'
import type { Log } from '../../runtime/log.js'
import type { Economy, Framer } from './framer.js'

/** Resolves when the other broker has acknowledged the message; rejects when it could not be sent. */
export type Carry = (topic: string, payload: Buffer) => Promise<void>

export type UplinkState = {
  readonly waiting: number
  readonly oldestAt: Ms | null
  readonly sentAt: Ms | null
  readonly trouble: string | null
  readonly monthBytes: number
  readonly economy: Economy
}

export type UplinkOptions = {
  readonly settings: UplinkSettings
  readonly store: Store
  readonly framer: Framer
  readonly carry: Carry
  readonly clock: { now(): Ms }
  readonly log: Pick<Log, 'info' | 'warn'>
}

export type Uplink = {
  /** Makes frames when it is time, and begins to send; resolves when nothing more can be sent now. Called often. */
  tick(): Promise<void>
  state(): UplinkState
}

/**
 * Bytes that a message costs beside its payload: topic and fixed header (MQTT 3.1.1, section 3.3), TCP and IP headers of
 * the message and of the acknowledgements both ways (RFC 9293, RFC 791: 40 each), TLS records (RFC 8446: 22 each).
 */
const OVERHEAD_BYTES = 4 + 2 + 3 * 40 + 2 * 22 + 4
const STRETCHED_FROM = 0.8
const THINNED_FROM = 0.95
const STRETCH = 3
const AGAIN_MS = 30 * SECOND
const NOTED_MS = 10 * MINUTE

export function createUplink({ settings, store, framer, carry, clock, log }: UplinkOptions): Uplink {
  let madeAt = Number.NEGATIVE_INFINITY
  let sentAt: Ms | null = null
  let trouble: string | null = null
  let triedAt = Number.NEGATIVE_INFINITY
  let sending = false
  let behind = false

  const monthOf = (at: Ms): string => new Date(at).toISOString().slice(0, 7)
  const used = (now: Ms): number => store.uplink.monthBytes(monthOf(now)) / settings.monthBytes
  const everyS = (now: Ms): number => settings.everyS * (used(now) >= STRETCHED_FROM ? STRETCH : 1)
  const economy = (now: Ms): Economy => (used(now) >= THINNED_FROM ? 'thinned' : 'full')

  function make(now: Ms): void {
    const every = everyS(now)
    if (now - madeAt < every * SECOND && now >= madeAt) return
    madeAt = now
    const { dropped } = framer.make(now, every, economy(now))
    if (dropped > 0) log.warn({ dropped }, 'the uplink keeps no more: its oldest readings will not reach town')
  }

  function failed(error: unknown, now: Ms): void {
    const words = error instanceof Error ? error.message : String(error)
    if (trouble === null || now - triedAt > NOTED_MS) log.warn({ trouble: words }, 'the uplink does not get through')
    trouble = words
    triedAt = now
    behind = true
  }

  /** After a cut first what is so now, then what was. */
  function next(): UplinkFrame | null {
    return behind ? store.uplink.newest() : store.uplink.oldest()
  }

  async function send(): Promise<void> {
    for (let frame = next(); frame !== null; frame = next()) {
      const topic = uplinkTopic(frame.site)
      try {
        await carry(topic, frame.data)
      } catch (error) {
        failed(error, clock.now())
        return
      }
      const now = clock.now()
      store.uplink.sent(frame.id, monthOf(now), frame.data.length + topic.length + OVERHEAD_BYTES)
      if (trouble !== null) log.info({ waiting: store.uplink.counts().waiting }, 'the uplink gets through again')
      trouble = null
      behind = false
      sentAt = now
    }
  }

  return {
    async tick() {
      const now = clock.now()
      make(now)
      if (sending || (trouble !== null && now - triedAt < AGAIN_MS)) return
      sending = true
      try {
        await send()
      } finally {
        sending = false
      }
    },
    state() {
      const now = clock.now()
      const { waiting, oldestAt } = store.uplink.counts()
      return {
        waiting,
        oldestAt,
        sentAt,
        trouble,
        monthBytes: store.uplink.monthBytes(monthOf(now)),
        economy: economy(now),
      }
    },
  }
}
