/** What the page and the API ask of the running daemon, answered from the line, the store and the teller. */
import type { Alarm } from '../model/alarm.js'
import type { JournalEntry } from '../model/modes.js'
import type { NewEntry } from '../record/journal.js'
import { LIMITS } from '../model/limits.js'
import type { BrokerSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import type {
  ActOutcome,
  BrokerPlace,
  HealthCheck,
  LinkTarget,
  MetricFamily,
  ShowEvent,
  ShowSource,
  SiteState,
} from '../show/source.js'
import { verifyLink } from '../tell/ack-link.js'
import type { Teller } from '../tell/teller.js'
import { BacktestBusy, type BacktestDesk } from './backtest-desk.js'
import type { BrokerBook } from './broker-book.js'
import type { Line } from './line.js'
import { createPushDesk } from './push-desk.js'
import type { SiteLine } from './site-line.js'
import { SizingBusy, type SizingDesk } from './sizing-desk.js'
import { createTokenDesk } from './token-desk.js'

export type SourceOptions = {
  readonly line: Line
  readonly store: Store
  readonly teller: Teller
  readonly clock: Clock
  readonly linkSecret: Uint8Array
  /** What the own broker turned away; absent: another program's broker. */
  readonly book?: BrokerBook
  readonly desk: SizingDesk
  readonly trials: BacktestDesk
  readonly health: () => readonly HealthCheck[]
  readonly metrics: () => readonly MetricFamily[]
}

export type Source = ShowSource & { readonly say: (event: ShowEvent) => void }

export function createSource(options: SourceOptions): Source {
  const { line, store, teller, clock, linkSecret } = options
  const listeners = new Set<(event: ShowEvent) => void>()
  const siteOf = (id: string): SiteLine => {
    const site = line.site(id)
    if (site === null) throw new Error(`no site "${id}"`)
    return site
  }
  const say = (event: ShowEvent): void => {
    for (const listener of listeners) listener(event)
  }
  const act = (site: SiteLine, key: string, change: { readonly alarm: Alarm } | null): ActOutcome => {
    if (change === null) return isActive(site, key) ? 'done' : 'unknown'
    site.gather([], [change as Parameters<SiteLine['gather']>[1][number]])
    line.write(site, clock.now())
    say({ site: site.site.id, kind: 'alarms', at: clock.now() })
    return 'done'
  }
  const acknowledge = (id: string, key: string, by: string): ActOutcome => {
    const site = siteOf(id)
    return act(site, key, site.judge.acknowledge(site.judgeState, key, by, clock.now()))
  }
  const note = (id: string, by: string, text: string): void => {
    store.journal.add({ site: id, at: clock.now(), by, text, newBaseline: false })
    siteOf(id).reread(clock.now())
    say({ site: id, kind: 'modes', at: clock.now() })
  }
  return {
    ...createPushDesk(
      store,
      (id) => siteOf(id).site,
      () => clock.now(),
    ),
    ...createTokenDesk(store, () => clock.now()),
    say,
    now: () => clock.now(),
    sites: () => line.sites.map((site) => site.site),
    state: (id) => stateOf(siteOf(id), store, teller),
    chart: (id, key, from, to, points) => {
      const site = siteOf(id)
      const series = site.series[site.indexOf(key)]
      return series === undefined ? [] : store.chart(series, from, to, points)
    },
    cycles: (id, from, to, limit) => store.cycles.list(id, from, to, limit),
    days: (id, from, to) => store.days.list(id, from, to),
    sizing: (id, needL, shortDaysAllowed) =>
      options.desk.ask(siteOf(id).site, { needL, shortDaysAllowed }).catch((error: unknown) => {
        if (error instanceof SizingBusy) return 'busy' as const
        throw error
      }),
    backtest: (id, alarm, settings) =>
      options.trials.ask(siteOf(id).site, { alarm, settings }).catch((error: unknown) => {
        if (error instanceof BacktestBusy) return 'busy' as const
        throw error
      }),
    activeAlarms: (id) => {
      const site = siteOf(id)
      return site.judge.active(site.judgeState)
    },
    alarms: (id, from, to) => store.alarms.list(id, from, to),
    acknowledge,
    shelve: (id, key, until, reason, by) => {
      const site = siteOf(id)
      return act(site, key, site.judge.shelve(site.judgeState, key, until, reason, by, clock.now()))
    },
    readLink: (token) => readLink(line, store, linkSecret, token, clock.now()),
    useLink: (token) => {
      const link = verifyLink(linkSecret, token, clock.now())
      const site = link.ok ? line.site(link.site) : null
      if (!link.ok || site === null) return null
      // A link speaks of one occurrence; one that came later has a message and a link of its own.
      const active = site.judge.active(site.judgeState).find((alarm) => alarm.key === link.alarmKey)
      if (active?.raised === link.raised) acknowledge(link.site, link.alarmKey, link.person)
      return readLink(line, store, linkSecret, token, clock.now())
    },
    journal: (id, from, to) => store.journal.list(id, from, to),
    addJournal: (entry) => addJournal(siteOf(entry.site), store, clock, entry, say),
    setAway: (id, away, by) => {
      store.modes.set(id, { away })
      note(
        id,
        by,
        away === null ? 'Back to the calendar: home or away by itself' : away ? 'Set to away' : 'Set to home',
      )
    },
    setWinterized: (id, winterized, by) => {
      store.modes.set(id, { winterized })
      note(id, by, winterized ? 'Closed for winter' : 'Opened after winter')
    },
    setMaintenance: (id, until, by) => {
      store.modes.set(id, { maintenanceUntil: until })
      note(id, by, until === null ? 'Maintenance ended' : `Maintenance until ${new Date(until).toISOString()}`)
    },
    refusals: (id) => store.refusals(id),
    brokerRefusals: (id) => options.book?.refusals(id) ?? [],
    keptAside: (id) =>
      store.keptAside(id).map(({ at, board, topic, reason, payload }) => ({
        at,
        board,
        topic,
        reason,
        payload: Buffer.from(payload).toString('utf8').slice(0, LIMITS.exampleCharsMax),
      })),
    metrics: options.metrics,
    health: options.health,
    subscribe: (listener) => {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    verify: async (name, secret) => {
      const account = await store.accounts.verify(name, secret)
      return account === null || account.role === 'board' ? null : account.role
    },
    role: (name) => {
      const account = store.accounts.list().find((one) => one.name === name)
      return account === undefined || account.role === 'board' ? null : account.role
    },
  }
}

/** Where boards connect, as the page tells it to people: an own broker's TLS port where it has one, else the plain one. */
export function brokerPlace(broker: BrokerSettings): BrokerPlace {
  if (broker.kind === 'embedded') {
    const { host, port, tls, anonymous } = broker
    return { kind: 'embedded', host, port: tls === null ? port : (tls.port ?? port), tls: tls !== null, anonymous }
  }
  const { protocol, hostname, port } = new URL(broker.url)
  const tls = protocol === 'mqtts:' || protocol === 'wss:'
  const usual = tls ? 8883 : 1883
  return { kind: 'external', host: hostname, port: port === '' ? usual : Number(port), tls, anonymous: false }
}

function isActive(site: SiteLine, key: string): boolean {
  return site.judge.active(site.judgeState).some((alarm) => alarm.key === key)
}

function stateOf(site: SiteLine, store: Store, teller: Teller): SiteState {
  const { engine, series } = site
  return {
    facts: site.facts,
    modes: site.modes,
    latest: engine.plan.signals.map((signal, index) => {
      const last = store.lastSample(series[index] ?? -1)
      const board = site.site.boards[signal.board]?.id ?? ''
      return {
        key: signal.key,
        role: signal.role,
        board,
        sample: last === null ? null : { t: last.t, value: last.value },
      }
    }),
    ways: teller.wayStates(site.site.id).map((state) => ({
      way: state.way,
      kind: site.site.tell.ways.find((way) => way.id === state.way)?.kind ?? '',
      provedAt: state.provedAt,
      error: state.error,
    })),
  }
}

/** An entry that starts a new baseline makes the site derive its days again from there. */
function addJournal(
  site: SiteLine,
  store: Store,
  clock: Clock,
  entry: NewEntry,
  say: (event: ShowEvent) => void,
): JournalEntry {
  const kept = store.transaction(() => {
    // With the entry, so that a restart derives from before it too.
    if (entry.newBaseline) store.snapshots.dropFrom(entry.site, entry.at)
    return store.journal.add(entry)
  })
  site.reread(clock.now())
  if (entry.newBaseline) site.goBackTo(entry.at)
  say({ site: entry.site, kind: 'journal', at: clock.now() })
  return kept
}

function readLink(line: Line, store: Store, secret: Uint8Array, token: string, now: Ms): LinkTarget | null {
  const link = verifyLink(secret, token, now)
  const site = link.ok ? line.site(link.site) : null
  if (!link.ok || site === null) return null
  const active = site.judge.active(site.judgeState).find((alarm) => alarm.key === link.alarmKey)
  const shown = active ?? store.alarms.latest(link.site, link.alarmKey)
  if (shown === null || shown === undefined) return null
  return {
    site: link.site,
    siteName: site.site.name === '' ? site.site.id : site.site.name,
    title: shown.words.title,
    settled: active === undefined || active.acknowledgedAt !== null || active.raised !== link.raised,
  }
}
