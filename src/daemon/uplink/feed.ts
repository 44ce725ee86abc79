/** Town's end of an uplink: a frame as if the boards had spoken here, with what its readings rest on checked again. */
import { LIMITS } from '../../model/limits.js'
import { roleOfKey, ROLES } from '../../model/roles.js'
import type { Arrival, Decoded, Refusal, RefusalReason, Sample } from '../../model/sample.js'
import type { SiteSettings } from '../../model/settings.js'
import { MINUTE, type Ms, SECOND } from '../../model/time.js'
import { UPLINK } from '../../model/uplink.js'
import { type Frame, type FrameColumn, FrameError, unpackFrame } from './frame.js'

/** What town knows of the clock of a place that sends up. */
export type Fed = {
  /** The clock of the place at its newest frame. */
  readonly at: Ms
  /** When that came, by the clock here. */
  readonly heardAt: Ms
  readonly everyS: number
}

export type Unpacked = { readonly decoded: Decoded; readonly fed: Fed | null }

/** Never throws, whatever the payload. */
export function unpackArrival(site: SiteSettings, arrival: Arrival): Unpacked {
  const refusals: Refusal[] = []
  const refuse = (reason: RefusalReason, example: string): void => {
    refusals.push({ reason, board: UPLINK, at: arrival.at, example: example.slice(0, LIMITS.exampleCharsMax) })
  }
  const decoded = { site: site.id, board: UPLINK, samples: [] as Sample[], refusals, clockSuspect: false }
  if (arrival.payload.length > LIMITS.payloadBytesMax) {
    refuse('too-large', `${arrival.payload.length} bytes, at most ${LIMITS.payloadBytesMax} are read`)
    return { decoded, fed: null }
  }
  const frame = frameOf(arrival, refuse)
  if (frame === null) return { decoded, fed: null }
  if (frame.site !== site.id) {
    refuse('unknown-name', `readings of site "${frame.site}" on the topic of ${site.id}`)
    return { decoded, fed: null }
  }
  if (frame.at > arrival.at + LIMITS.aheadMaxMs) {
    refuse('future', `the clock of the place shows ${new Date(frame.at).toISOString()}`)
    return { decoded, fed: null }
  }
  const known = new Set(site.boards.flatMap((board) => board.signals.map((signal) => signal.key)))
  for (const column of frame.columns) {
    if (known.has(column.key)) takeColumn(column, arrival, decoded.samples, refuse)
    else refuse('unknown-name', `${column.key}: no signal of ${site.id} here`)
  }
  return { decoded, fed: { at: frame.at, heardAt: arrival.at, everyS: frame.everyS } }
}

function frameOf(arrival: Arrival, refuse: (reason: RefusalReason, example: string) => void): Frame | null {
  try {
    return unpackFrame(arrival.payload)
  } catch (error) {
    if (!(error instanceof FrameError)) throw error
    refuse('not-senml', `uplink: ${error.message}`)
    return null
  }
}

function takeColumn(
  { key, t, v }: FrameColumn,
  arrival: Arrival,
  samples: Sample[],
  refuse: (reason: RefusalReason, example: string) => void,
): void {
  const role = roleOfKey(key)
  if (role === null) return
  const { low, high } = ROLES[role]
  for (let i = 0; i < t.length; i++) {
    const at = t[i] ?? 0
    const value = v[i] ?? Number.NaN
    const said = `${key} ${value} at ${new Date(at).toISOString()}`
    if (at > arrival.at + LIMITS.aheadMaxMs) refuse('future', said)
    else if (at < arrival.at - LIMITS.ageMaxMs) refuse('too-old', said)
    else if (value < low || value > high) refuse('out-of-range', said)
    else samples.push({ key, role, t: at, value })
  }
}

/**
 * The time up to which a place that sends up may be looked at: its own clock at its newest frame, since what came after
 * is not here yet; and the clock here once frames have failed to come, so that silence is noticed.
 */
export function clockOf(fed: Fed | null, now: Ms): Ms {
  if (fed === null || now - fed.heardAt > 3 * fed.everyS * SECOND + MINUTE) return now
  return Math.min(now, fed.at)
}

/** Of what is known and what has just come, the newer. */
export function newerOf(known: Fed | null, came: Fed): Fed {
  if (known === null) return came
  return { at: Math.max(known.at, came.at), heardAt: Math.max(known.heardAt, came.heardAt), everyS: came.everyS }
}
