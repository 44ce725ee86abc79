/** The body of `GET /api/signals`: what each signal was configured to be, and what has come of it lately. */
import { z } from 'zod'
import { payloadUnit } from '../../model/payload-units.js'
import { ROLES, type RoleSpec } from '../../model/roles.js'
import type { BoardSettings, SignalSettings, SiteSettings } from '../../model/settings.js'
import { MINUTE, type Ms } from '../../model/time.js'
import type { BrokerPlace, LatestSample, ShowSource } from '../source.js'
import { iso, isoOrNull, NumberOrNull, numberOrNull, Time, TimeOrNull } from './common.js'

const BrokerBody = z.object({
  kind: z.enum(['embedded', 'external']),
  host: z.string(),
  port: z.number(),
  tls: z.boolean(),
  anonymous: z.boolean().describe('Boards need no account; only where the broker listens to its own machine alone'),
})

const SignalBody = z.object({
  key: z.string(),
  role: z.string(),
  board: z.string(),
  name: z.string().describe('The SenML name that means it, after the board’s own base name'),
  topic: z.string(),
  decode: z.enum(['senml', 'number', 'json']),
  pointer: z.string().nullable(),
  unit: z.string().describe('SI, as RFC 8428 or RFC 8798 names it; empty for contacts'),
  unit_written: z.string().nullable().describe('Unit of a mapped payload, as configured'),
  unit_scale: z.number().describe('SI = (payload × scale + offset) × unit_scale, but for temperatures'),
  scale: z.number(),
  offset: z.number(),
  has_table: z.boolean(),
  low: z.number().describe('Below it a record is refused'),
  high: z.number(),
  sd: z.number().describe('Standard uncertainty of one reading, its absolute part'),
  gain_sd: z.number().describe('Its relative part'),
  at: TimeOrNull,
  value: NumberOrNull,
  failed: z.boolean(),
  lately: z
    .object({ minutes: z.number(), n: z.number(), min: z.number(), max: z.number(), mean: z.number() })
    .nullable()
    .describe('What came in the last minutes; null: nothing'),
})

export const SignalsBody = z
  .object({
    site: z.string(),
    at: Time,
    broker: BrokerBody,
    boards: z.array(z.object({ id: z.string(), topic: z.string(), account: z.string(), expect_every_s: z.number() })),
    signals: z.array(SignalBody),
  })
  .meta({ id: 'Signals' })
export type SignalsBody = z.infer<typeof SignalsBody>
export type SignalBody = z.infer<typeof SignalBody>

/** Enough for a slow board to have spoken, short enough to show at once what somebody changes at a sensor. */
const LATELY_MS = 10 * MINUTE

function latelyOf(source: ShowSource, site: string, key: string, now: Ms): SignalBody['lately'] {
  const points = source.chart(site, key, now - LATELY_MS, now + 1, 1)
  const n = points.reduce((sum, point) => sum + point.n, 0)
  if (n === 0) return null
  return {
    minutes: LATELY_MS / MINUTE,
    n,
    min: Math.min(...points.map((point) => point.min)),
    max: Math.max(...points.map((point) => point.max)),
    mean: points.reduce((sum, point) => sum + point.mean * point.n, 0) / n,
  }
}

function signalBody(
  board: BoardSettings,
  signal: SignalSettings,
  latest: LatestSample | undefined,
  lately: SignalBody['lately'],
): SignalBody {
  const spec: RoleSpec = ROLES[signal.role]
  const sample = latest?.sample ?? null
  return {
    key: signal.key,
    role: signal.role,
    board: board.id,
    name: signal.name,
    topic: signal.topic ?? board.topic,
    decode: signal.decode,
    pointer: signal.pointer,
    unit: spec.unit,
    unit_written: signal.unit,
    unit_scale: payloadUnit(spec.unit, signal.unit ?? '')?.scale ?? 1,
    scale: signal.scale,
    offset: signal.offset,
    has_table: signal.table !== null,
    low: signal.low ?? spec.low,
    high: signal.high ?? spec.high,
    sd: signal.sd ?? spec.sd,
    gain_sd: spec.gainSd,
    at: isoOrNull(sample?.t ?? null),
    value: sample === null ? null : numberOrNull(sample.value),
    failed: sample !== null && Number.isNaN(sample.value),
    lately,
  }
}

export function signalsBody(source: ShowSource, site: SiteSettings, broker: BrokerPlace): SignalsBody {
  const now = source.now()
  const { latest } = source.state(site.id)
  const several = source.sites().length > 1
  return {
    site: site.id,
    at: iso(now),
    broker,
    boards: site.boards.map(({ id, topic, expectEveryS }) => ({
      id,
      topic,
      account: several ? `${site.id}-${id}` : id,
      expect_every_s: expectEveryS,
    })),
    signals: site.boards.flatMap((board) =>
      board.signals.map((signal) =>
        signalBody(
          board,
          signal,
          latest.find((one) => one.key === signal.key),
          latelyOf(source, site.id, signal.key, now),
        ),
      ),
    ),
  }
}
