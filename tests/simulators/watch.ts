/** Lives some days of a site and keeps what its sensors said and what was true. */
import type { Message } from '../../simulators/link.js'
import { type SimulateOptions, simulate } from '../../simulators/simulate.js'
import type { Truth } from '../../simulators/truth.js'
import { DAY, HOUR, type Ms } from '../../src/model/time.js'

/** Midnight in May at juniper; a spring without frost. */
export const START = Date.UTC(2026, 4, 4, 7)

export type Seen = { readonly t: Ms; readonly value: number }
export type Watched = {
  readonly truth: Truth
  readonly messages: readonly Message[]
  /** Values by signal, in order of receipt; contacts are 0 and 1. */
  readonly signals: ReadonlyMap<string, readonly Seen[]>
  /** Payloads that were no JSON. */
  readonly unreadable: readonly string[]
}

type Asked = Partial<SimulateOptions> & Pick<SimulateOptions, 'site' | 'days'>

/** The truth alone, where no sensor is asked. */
export function truthOf(options: Asked): Truth {
  const { messages, truth } = simulate({ seed: 5, startMs: START, ...options })
  while (messages.next().done !== true);
  return truth
}

export function watch(options: Asked): Watched {
  const simulation = simulate({ seed: 5, startMs: START, ...options })
  const messages = [...simulation.messages]
  const signals = new Map<string, Seen[]>()
  const unreadable: string[] = []
  for (const message of messages) {
    try {
      for (const seen of readPack(message)) {
        const list = signals.get(seen.name) ?? []
        list.push({ t: seen.t, value: seen.value })
        signals.set(seen.name, list)
      }
    } catch {
      unreadable.push(message.payload)
    }
  }
  return { truth: simulation.truth, messages, signals, unreadable }
}

/** A reader of packs of its own, for the few rules of RFC 8428 that these boards use. */
function readPack(message: Message): { name: string; t: Ms; value: number }[] {
  const pack: unknown = JSON.parse(message.payload)
  if (!Array.isArray(pack)) throw new Error('no pack')
  const base: number = pack[0].bt ?? 0
  const time = base < 2 ** 28 ? message.at + base * 1_000 : base * 1_000
  return pack.map((record) => ({ name: record.n, t: Math.round(time), value: Number(record.v ?? record.vb) }))
}

/** Values of a signal with from ≤ t < to. */
export function between(watched: Watched, signal: string, from: Ms, to: Ms): number[] {
  return (watched.signals.get(signal) ?? []).filter(({ t }) => t >= from && t < to).map(({ value }) => value)
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN
}

export const hours = (n: number): Ms => n * HOUR
export const days = (n: number): Ms => n * DAY
