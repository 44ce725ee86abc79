/** The daemon's look at itself: health for the outside, facts for the judge, counters for the metrics page. */
import { DAEMON_WELL, type DaemonFacts } from '../model/daemon-facts.js'
import { LIMITS } from '../model/limits.js'
import { MINUTE, type Ms, SECOND } from '../model/time.js'
import type { Receiver, ReceiverStats } from '../receive/receiver.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import type { HealthCheck, MetricFamily } from '../show/source.js'
import type { Teller } from '../tell/teller.js'
import type { BrokerBook } from './broker-book.js'
import type { Ingest } from './ingest.js'
import type { Line } from './line.js'

export type HealthOptions = {
  readonly line: Line
  readonly store: Store
  readonly ingest: Ingest
  readonly teller: Teller
  readonly receiver: () => Receiver | null
  /** The broker is another program: then no connection is no reception. */
  readonly external: boolean
  readonly clock: Clock
  readonly startedAt: Ms
  readonly book: BrokerBook
  /** When the line was last stepped through; set by the daemon's loop. */
  readonly steppedAt: () => Ms
}

/** A step this old is no longer proof that readings are looked at. */
const STEP_PROOF_MS = 30 * SECOND

export function createHealth(options: HealthOptions) {
  const { line, clock } = options
  let holdingSince: Ms | null = null
  return {
    checks: () => checks(options),
    facts: (site: string) => {
      holdingSince = line.holding ? (holdingSince ?? clock.now()) : null
      return options.book.facts(site, facts(options, site, holdingSince), clock.now())
    },
    metrics: () => metrics(options),
    /** What does not work right now, by doing it: the last step, the broker's own probe, and a commit made for this. */
    prove: () => prove(options),
  }
}

function prove(options: HealthOptions): readonly string[] {
  const { store, line, clock, receiver, steppedAt } = options
  const failing = checks(options).flatMap(({ name, ok, reason }) => (ok || name === 'tell' ? [] : [reason]))
  if (clock.now() - steppedAt() > STEP_PROOF_MS) failing.push('readings are not looked at')
  if ((receiver()?.stats().misses ?? 1) > 0) failing.push('the broker did not hear itself')
  if (line.holding) return failing
  try {
    store.prove(clock.now())
  } catch (error) {
    failing.push(`the store takes nothing: ${error instanceof Error ? error.message : String(error)}`)
  }
  return failing
}

function checks(options: HealthOptions): readonly HealthCheck[] {
  const { ingest, line, clock, steppedAt, teller } = options
  const { failingSince } = ingest.state()
  const now = clock.now()
  const untold = line.sites.some((site) => teller.failingSince(site.site.id) !== null)
  return [
    check('store', failingSince === null && !line.holding, 'the store does not take what is found'),
    check('line', now - steppedAt() < 2 * MINUTE, 'readings have not been looked at for two minutes'),
    check('sites', line.broken.length === 0, `the readings of ${line.broken.join(', ')} cannot be looked at`),
    receiveCheck(options),
    check('tell', !untold, 'somebody cannot be reached by any way'),
  ]
}

function receiveCheck({ receiver, external }: HealthOptions): HealthCheck {
  const stats = receiver()?.stats() ?? null
  if (external && stats?.connected === 0) return check('receive', false, 'there is no connection to the broker')
  const heard = stats !== null && stats.misses < LIMITS.selfProbeMissesMax
  return check(
    'receive',
    heard,
    external ? 'the broker does not bring back our own message' : 'the broker does not hear itself',
  )
}

function check(name: string, ok: boolean, reason: string): HealthCheck {
  return { name, ok, reason: ok ? 'works' : reason }
}

function facts({ ingest, teller, startedAt }: HealthOptions, site: string, holdingSince: Ms | null): DaemonFacts {
  const { failingSince, error } = ingest.state()
  const [unreachable] = teller.unreachable(site)
  const storeFailingSince = earlier(failingSince, holdingSince)
  return {
    ...DAEMON_WELL,
    storeFailingSince,
    storeError: error,
    tellingFailingSince: teller.failingSince(site),
    tellingError: unreachable?.error ?? null,
    listeningSince: startedAt,
  }
}

function earlier(a: Ms | null, b: Ms | null): Ms | null {
  return a === null || b === null ? (a ?? b) : Math.min(a, b)
}

const RECEIVER_COUNTS = ['received', 'settled', 'failed', 'takeovers', 'restarts'] as const

function metrics({ line, store, ingest, receiver }: HealthOptions): readonly MetricFamily[] {
  const { counts } = line
  const tooFast = line.sites.reduce((sum, site) => sum + site.tooFast, 0)
  const state = ingest.state()
  const sizes = store.sizes()
  const stats = receiver()?.stats() ?? null
  return [
    counter('sightglass_messages', 'Messages committed.', counts.messages),
    counter('sightglass_samples', 'Samples stored.', counts.samples),
    counter('sightglass_records_refused', 'Records not believed, all reasons.', counts.refused + tooFast),
    counter('sightglass_retained_ignored', 'Retained messages, which say what was so once.', counts.retainedIgnored),
    counter('sightglass_samples_late', 'Samples that came after their time had been looked at.', counts.late),
    gauge(
      'sightglass_sites_going_back',
      'Sites whose days are to be derived again, or are just now, over samples that came late.',
      line.sites.filter((site) => site.goingBack).length,
    ),
    counter('sightglass_queue_refused', 'Messages refused because too many waited.', state.refusedFull),
    gauge('sightglass_queue', 'Messages that wait for a commit.', state.queued),
    gauge('sightglass_store_bytes', 'Size of the store file.', sizes.fileBytes, 'bytes'),
    gauge('sightglass_store_log_bytes', 'Size of its write-ahead log.', sizes.walBytes, 'bytes'),
    gauge('sightglass_resident_memory_bytes', 'Memory of the process.', process.memoryUsage.rss(), 'bytes'),
    ...uplinkMetrics(store),
    ...(stats === null ? [] : receiverMetrics(stats)),
  ]
}

function uplinkMetrics(store: Store): readonly MetricFamily[] {
  if (store.uplink.cursor() === null) return []
  const { waiting, bytes } = store.uplink.counts()
  return [
    gauge('sightglass_uplink_frames', 'Frames that wait to be taken in town.', waiting),
    gauge('sightglass_uplink_waiting_bytes', 'Their size.', bytes, 'bytes'),
  ]
}

function receiverMetrics(stats: ReceiverStats): readonly MetricFamily[] {
  return [
    gauge('sightglass_connections', 'Clients connected.', stats.connected),
    ...RECEIVER_COUNTS.map((name) => counter(`sightglass_broker_${name}`, `Broker: ${name}.`, stats[name])),
    {
      name: 'sightglass_broker_refused',
      type: 'counter' as const,
      help: 'Turned away at the broker, by reason.',
      points: Object.entries(stats.refused).map(([reason, value]) => ({ labels: { reason }, value })),
    },
  ]
}

function counter(name: string, help: string, value: number): MetricFamily {
  return { name, type: 'counter', help, points: [{ labels: {}, value }] }
}

function gauge(name: string, help: string, value: number, unit?: string): MetricFamily {
  return { name, type: 'gauge', help, ...(unit === undefined ? {} : { unit }), points: [{ labels: {}, value }] }
}
