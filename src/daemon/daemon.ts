/** The running program: brokers, line, teller, page and housekeeping, started in order and stopped in reverse. */
import { randomBytes } from 'node:crypto'
import { readFileSync } from 'node:fs'
import type { AddressInfo } from 'node:net'
import type { FastifyInstance } from 'fastify'
import type { Notice } from '../model/alarm.js'
import type { FillCycle } from '../model/fill.js'
import { LIMITS } from '../model/limits.js'
import type { DaemonSettings, SiteSettings } from '../model/settings.js'
import { type Ms, SECOND } from '../model/time.js'
import { openCapture } from '../receive/capture.js'
import { startEmbedded } from '../receive/embedded.js'
import type { ReceiveEvent, Receiver } from '../receive/receiver.js'
import { boardRules, isLoopback } from '../receive/rules.js'
import { makeStoreFolder } from '../record/folder.js'
import { openStore, type Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import type { Log } from '../runtime/log.js'
import { sizingBody } from '../show/bodies/sizing.js'
import { createLinkMaker } from '../tell/ack-link.js'
import type { LinkMaker } from '../tell/compose.js'
import { createTeller, type Teller } from '../tell/teller.js'
import { openWays } from '../tell/ways/index.js'
import type { Publish } from '../tell/ways/mqtt.js'
import { BrokerBook } from './broker-book.js'
import { createHealth } from './health.js'
import { type Housekeeping, startHousekeeping } from './housekeeping.js'
import { Ingest } from './ingest.js'
import { Line } from './line.js'
import { lineEvents } from './line-events.js'
import { loop } from './loop.js'
import { browsersOf } from './browsers.js'
import { startBeat, startUplink } from './outward.js'
import { pageRefusals } from './page-refusals.js'
import { picturesOf } from './pictures.js'
import { createPastStore } from './past-store.js'
import { createRounds } from './rounds.js'
import { type BacktestDesk, createBacktestDesk } from './backtest-desk.js'
import { createSizingDesk, type SizingDesk, USUAL_ASK } from './sizing-desk.js'
import { brokerPlace, createSource, type Source } from './source.js'
import { createTellingTopic } from './telling-topic.js'

export type DaemonOptions = {
  readonly settings: DaemonSettings
  readonly clock: Clock
  readonly log: Log
  readonly version: string
  /** Folder of the built page; null: API only. */
  readonly pageDir: string | null
  readonly captureFile?: string
  /** For clocks faster than life, on which messages seem slow. */
  readonly latenessMs?: Ms
  readonly onFills?: (site: SiteSettings, cycles: readonly FillCycle[]) => void
  readonly onNotices?: (site: SiteSettings, notices: readonly Notice[]) => void
}

export type Daemon = {
  readonly store: Store
  readonly line: Line
  readonly teller: Teller
  readonly pageAddress: string
  readonly brokerAddress: () => string
  /** Stops taking messages, settles what waits, writes what is found, closes the store. Harmless twice. */
  stop(): Promise<void>
}

/** The daemon cannot start as configured; says what to change. */
export class StartError extends Error {}

/** Samples that a step may run through at once when it goes back, so that messages are not kept waiting. */
const STEP_SAMPLES_MAX = 15_000
const STEP_MS = SECOND
/** The next step while there is more to go back over: soon, with room for messages in between. */
const STEP_AGAIN_MS = 20
const TELL_MS = 2 * SECOND
const STOP_TELLING_MS = 3 * SECOND

export async function startDaemon(options: DaemonOptions): Promise<Daemon> {
  const { settings, clock, log } = options
  makeStoreFolder(settings.store.file)
  const store = openStore({ file: settings.store.file, now: clock.now() })
  const parts: Partial<Parts> = { store }
  try {
    return await start(options, store, parts)
  } catch (error) {
    await stopAll(parts, log)
    log.error({ error: String(error) }, 'cannot start')
    throw error
  }
}

type Parts = {
  store: Store
  desk: SizingDesk
  trials: BacktestDesk
  line: Line
  ingest: Ingest
  teller: Teller
  receiver: Receiver
  app: FastifyInstance
  housekeeping: Housekeeping
  beat: { stop(): void }
  uplink: { stop(): Promise<void> }
  stopLoop: () => void
  capture: { append(arrival: unknown): void; close(): unknown }
}

async function start(options: DaemonOptions, store: Store, parts: Partial<Parts>): Promise<Daemon> {
  const { settings, clock, log } = options
  const startedAt = clock.now()
  await makeAccounts(settings, store, startedAt)
  const access = accessOf(settings, store)
  const linkSecret = store.secret('acknowledge-links')
  let receiver: Receiver | null = null
  const publish: Publish = async (topic, payload, publishOptions) => {
    if (receiver === null) throw new Error('no broker is connected')
    await receiver.publish(topic, payload, publishOptions)
  }
  const ways = waysOf(options, store, publish)
  const teller = createTeller({ store, sites: settings.sites, ways, clock, log, after: clock.after })
  parts.teller = teller
  const tellingTopic = createTellingTopic({ sites: settings.sites, teller, publish, log })
  const link = linkFor(settings, linkSecret, clock)
  let source: Source | null = null
  const pastStore = createPastStore({ teller, log, holding: () => line.holding })
  const line: Line = new Line({
    sites: settings.sites,
    store,
    log,
    judging: true,
    link,
    isolate: true,
    ...(options.latenessMs === undefined ? {} : { latenessMs: options.latenessMs }),
    events: lineEvents(options, (event) => source?.say(event), pastStore),
  })
  parts.line = line
  for (const site of line.sites) site.resume(startedAt - (options.latenessMs ?? LIMITS.latenessMs))
  const capture = options.captureFile === undefined ? null : openCapture(options.captureFile, captureLog(log))
  if (capture !== null) parts.capture = capture as Parts['capture']
  const ingest = new Ingest({
    line,
    clock,
    log,
    ...(capture === null ? {} : { onSafe: (arrival) => capture.append(arrival) }),
  })
  parts.ingest = ingest
  let steppedAt = startedAt
  const book = new BrokerBook(boardRules(settings.sites))
  const health = createHealth({
    book,
    line,
    store,
    ingest,
    teller,
    receiver: () => receiver,
    external: settings.broker.kind === 'external',
    clock,
    startedAt,
    steppedAt: () => steppedAt,
  })
  const desk = createSizingDesk({ store, clock, stateOf: (site) => line.site(site)?.state ?? null })
  parts.desk = desk
  const trials = createBacktestDesk({ store, clock })
  parts.trials = trials
  const sizing = async (site: SiteSettings) => sizingBody(await desk.ask(site, USUAL_ASK))
  const rounds = createRounds({ line, store, link, log, sizing })
  parts.stopLoop = loop(
    clock,
    () => {
      const now = clock.now()
      const more = line.step(now, health.facts, STEP_SAMPLES_MAX)
      steppedAt = now
      rounds.run(now)
      pastStore.run(now)
      if (receiver !== null) tellingTopic.run(now)
      return more ? STEP_AGAIN_MS : STEP_MS
    },
    log,
  )
  const { checks, metrics } = health
  source = createSource({ book, line, store, teller, clock, linkSecret, desk, trials, health: checks, metrics })
  receiver = await startReceiver(options, store, line, ingest, book)
  parts.receiver = receiver
  teller.start(TELL_MS)
  parts.beat = startBeat(options, health.prove)
  if (settings.uplink !== null) parts.uplink = startUplink(settings.uplink, options, store, line)
  parts.housekeeping = startHousekeeping(store, clock, log, settings.store.keepSamplesDays)
  const { app, address } = await openPage(options, source, access)
  parts.app = app
  tellOfDamage(store, log)
  const running = receiver
  let stopping: Promise<void> | null = null
  return {
    store,
    line,
    teller,
    pageAddress: address,
    brokerAddress: () => running.address(),
    stop: () => {
      stopping ??= stopAll(parts, log)
      return stopping
    },
  }
}

function waysOf(options: DaemonOptions, store: Store, publish: Publish) {
  return openWays(options.settings.sites, {
    now: () => options.clock.now(),
    publish,
    pictures: picturesOf(options, store),
    push: { secret: store.secret('web-push'), browsers: browsersOf(options, store) },
  })
}

function tellOfDamage({ start }: Store, log: Log): void {
  if (start.kind !== 'set-aside') return
  log.error({ file: start.file, reason: start.reason }, 'the store was damaged: set aside, a new one begun')
}

function captureLog(log: Log) {
  return {
    onError: (error: Error, lost: number) =>
      log.error(
        { error: String(error), lost },
        'the capture could not be written; what was received is kept all the same',
      ),
  }
}

async function makeAccounts(settings: DaemonSettings, store: Store, now: Ms): Promise<void> {
  for (const { name, role, password, site } of settings.accounts) {
    await store.accounts.add({ name, role, ...(site === null ? {} : { site }) }, password, now)
  }
}

/** Who gets in: everybody on loopback where that is allowed, else people with accounts; and there must be one. */
function accessOf({ page }: DaemonSettings, store: Store): 'open' | 'accounts' {
  if (isLoopback(page.host) && page.openOnLoopback) return 'open'
  if (!store.accounts.list().some((account) => account.role !== 'board')) {
    throw new StartError(
      `page.host is ${page.host} and there is no account for a person: add one (sightglass account add NAME --role owner), or set page.host to 127.0.0.1`,
    )
  }
  return 'accounts'
}

/**
 * Links that acknowledge are put into messages only where it is known by which address the page is reached: the one
 * that is configured, or the one listened on, if that is neither this machine's own nor "any".
 */
function linkFor({ page, sites }: DaemonSettings, secret: Uint8Array, clock: Clock): LinkMaker {
  const known = !isLoopback(page.host) && page.host !== '0.0.0.0' && page.host !== '::'
  const listened = `${page.tls === null ? 'http' : 'https'}://${urlHost(page.host)}:${page.port}`
  const address = page.address ?? (known ? listened : null)
  if (address === null) return () => null
  const now = () => clock.now()
  const makers = new Map(sites.map(({ id }) => [id, createLinkMaker({ secret, site: id, page: address, now })]))
  return (alarmKey, person, raised, site) => makers.get(site)?.(alarmKey, person, raised) ?? null
}

function urlHost(host: string): string {
  return host.includes(':') ? `[${host}]` : host
}

async function startReceiver(
  options: DaemonOptions,
  store: Store,
  line: Line,
  ingest: Ingest,
  book: BrokerBook,
): Promise<Receiver> {
  const { settings, clock, log } = options
  const shared = {
    ingest: ingest.push,
    now: () => clock.now(),
    log,
    onEvent: (event: ReceiveEvent) => {
      book.note(event)
      noteEvent(log, event)
    },
  }
  if (settings.broker.kind === 'embedded') {
    return startEmbedded({
      ...shared,
      settings: settings.broker,
      boards: boardRules(settings.sites),
      verify: (name, password) => store.accounts.verify(name, password),
      marks: () => store.accounts.marks(),
    })
  }
  const { startExternal } = await import('../receive/external.js')
  return startExternal({ ...shared, settings: settings.broker, topics: line.topics, random: () => clock.chance() })
}

function noteEvent(log: Log, event: ReceiveEvent): void {
  const { kind, ...about } = event
  if (kind === 'connected' || kind === 'disconnected') log.info(about, `broker: ${kind}`)
  // The broker has logged a refusal itself, at a bounded rate.
  else if (kind !== 'refused') log.warn(about, `broker: ${kind}`)
}

function cannotListen(host: string, port: number, cause: unknown): string {
  const code = cause instanceof Error && 'code' in cause ? cause.code : undefined
  const found = cause instanceof Error ? cause.message : String(cause)
  const hint =
    code === 'EADDRINUSE'
      ? 'another program has this port (a demo, or a second daemon?): stop it, or choose another page.port'
      : code === 'EACCES'
        ? 'this user may not open a port that low: choose a page.port of 1024 or more'
        : 'page.host must be an address of this machine'
  return `the page cannot listen on ${host}:${port}: ${found}; ${hint}`
}

async function openPage(options: DaemonOptions, source: Source, access: 'open' | 'accounts') {
  const { settings, clock, log, version, pageDir } = options
  const { page } = settings
  const { createApp } = await import('../show/app.js')
  const tls =
    page.tls === null
      ? null
      : { key: readFileSync(page.tls.keyFile, 'utf8'), cert: readFileSync(page.tls.certFile, 'utf8') }
  const app = createApp({
    source,
    access,
    randomBytes: (count) => randomBytes(count),
    tls,
    broker: brokerPlace(settings.broker),
    pageDir,
    version,
    onError: (error, route) => log.error({ route, error: String(error) }, 'a request failed'),
    onRefused: pageRefusals(() => clock.now(), log),
  })
  try {
    await app.listen({ host: page.host, port: page.port })
  } catch (cause) {
    throw new StartError(cannotListen(page.host, page.port, cause))
  }
  const { port } = app.server.address() as AddressInfo
  return { app, address: `${tls === null ? 'http' : 'https'}://${urlHost(page.host)}:${port}/` }
}

/** Each part is stopped whatever became of the one before: an error here must not leave the store open. */
async function stopAll(parts: Partial<Parts>, log: Log): Promise<void> {
  const acts: readonly (() => unknown)[] = [
    () => parts.beat?.stop(),
    () => parts.stopLoop?.(),
    () => parts.desk?.stop(),
    () => parts.trials?.stop(),
    () => parts.uplink?.stop(),
    () => parts.housekeeping?.stop(),
    () => parts.receiver?.close(),
    () => parts.ingest?.drain(),
    () => parts.app?.close(),
    () => stopTelling(parts.teller),
    () => parts.capture?.close(),
    () => parts.store?.close(),
  ]
  for (const act of acts) {
    try {
      await act()
    } catch (error) {
      log.error({ error: String(error) }, 'a part could not be stopped in order')
    }
  }
}

async function stopTelling(teller: Teller | undefined): Promise<void> {
  if (teller === undefined) return
  await Promise.race([teller.stop(), new Promise((done) => setTimeout(done, STOP_TELLING_MS).unref())])
}
