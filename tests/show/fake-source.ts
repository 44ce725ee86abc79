/** A source for the tests: made-up sites in memory, everything that acts is written down in `acts`. */
import type { Alarm } from '../../src/model/alarm.js'
import type { Facts } from '../../src/model/facts.js'
import type { JournalEntry, Modes } from '../../src/model/modes.js'
import type { SiteSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../src/model/time.js'
import type {
  HealthCheck,
  LatestSample,
  LinkTarget,
  SeriesPoint,
  ShowEvent,
  ShowSource,
} from '../../src/show/source.js'
import { fakeSizing } from './fake-sizing.js'
import { course, cycles, days, dryWell, FERN, fernFacts, JUNIPER, juniperFacts, NOW } from './fake-site.js'

export const OWNER = { name: 'ops', secret: 'correct horse' }
export const VIEWER = { name: 'neighbour', secret: 'just looking' }
export const GOOD_TOKEN = 'good-token.tag'

export type FakeSource = ShowSource & {
  readonly acts: string[]
  readonly alarmsOf: Map<string, Alarm[]>
  readonly factsOf: Map<string, Facts | null>
  readonly modesOf: Map<string, Modes>
  readonly journalRows: JournalEntry[]
  readonly accounts: Map<string, { secret: string; role: 'owner' | 'viewer' | 'board' }>
  readonly tokensOf: Map<string, { readonly name: string; readonly role: 'owner' | 'viewer' }>
  checks: readonly HealthCheck[]
  verifications: number
  clock: Ms
  listeners: number
  readonly emit: (event: ShowEvent) => void
}

function latestOf(site: SiteSettings): LatestSample[] {
  return site.boards.flatMap((board) =>
    board.signals.map((signal) => {
      const value = course(signal.key, NOW - MINUTE)
      const sample =
        signal.key === 'humidity' ? { t: NOW - MINUTE, value: Number.NaN } : { t: NOW - MINUTE, value: value ?? 0 }
      return { key: signal.key, role: signal.role, board: board.id, sample }
    }),
  )
}

function chart(key: string, from: Ms, to: Ms, points: number): SeriesPoint[] {
  const width = Math.max(MINUTE, Math.ceil((to - from) / points))
  const rows: SeriesPoint[] = []
  for (let t = from; t < to; t += width) {
    const mean = course(key, t)
    if (mean === null) continue
    const wide = Math.abs(mean) * 0.004
    rows.push({ from: t, to: Math.min(to, t + width), n: 4, min: mean - wide, max: mean + wide, mean })
  }
  return rows
}

export function createFakeSource(sites: readonly SiteSettings[] = [JUNIPER]): FakeSource {
  const listeners = new Set<(event: ShowEvent) => void>()
  const linkTarget = (settled: boolean): LinkTarget => ({
    site: 'juniper',
    siteName: 'Juniper <Bench>',
    title: 'Water has stopped arriving',
    settled,
  })
  const quiet: Modes = { away: false, winterized: false, maintenanceUntil: null }

  const fake: FakeSource = {
    acts: [],
    alarmsOf: new Map([['juniper', [dryWell()]]]),
    factsOf: new Map<string, Facts | null>([
      ['juniper', juniperFacts()],
      ['fern', fernFacts()],
    ]),
    modesOf: new Map(),
    journalRows: [
      {
        id: 1,
        site: 'juniper',
        at: NOW - 20 * DAY,
        by: 'ops',
        text: 'Cleaned the array.',
        newBaseline: false,
        upkeep: null,
      },
      {
        id: 2,
        site: 'juniper',
        at: NOW - 9 * DAY,
        by: 'ops',
        text: '<img src=x onerror="document.title=\'broken\'"> new check valve',
        newBaseline: true,
        upkeep: null,
      },
    ],
    accounts: new Map([
      [OWNER.name, { secret: OWNER.secret, role: 'owner' as const }],
      [VIEWER.name, { secret: VIEWER.secret, role: 'viewer' as const }],
      ['tank-board', { secret: 'board secret', role: 'board' as const }],
    ]),
    checks: [
      { name: 'receive', ok: true, reason: 'the broker answers' },
      { name: 'store', ok: true, reason: 'the last commit took 3 ms' },
    ],
    tokensOf: new Map(),
    verifications: 0,
    clock: NOW,
    listeners: 0,
    emit: (event) => {
      for (const listener of listeners) listener(event)
    },

    now: () => fake.clock,
    sites: () => sites,
    state: (site) => ({
      facts: fake.factsOf.get(site) ?? null,
      modes: fake.modesOf.get(site) ?? quiet,
      latest: latestOf(sites.find((one) => one.id === site) ?? JUNIPER),
      ways: [
        { way: 'mail-1', kind: 'email', provedAt: NOW - 6 * DAY, error: null },
        { way: 'hook-1', kind: 'webhook', provedAt: null, error: 'the other side answered 503' },
      ],
    }),
    chart: (_site, key, from, to, points) => chart(key, from, to, points),
    cycles: (_site, from, to, limit) =>
      cycles(12)
        .filter((one) => one.start >= from && one.start < to)
        .slice(-limit),
    days: (_site, from, to) => days(40).filter((one) => one.date >= from && one.date <= to),
    sizing: async (site, needL, shortDays) => fakeSizing(site, needL, shortDays),
    backtest: async (site, alarm, settings) => {
      if (settings.on_delay === 77) return 'busy'
      fake.acts.push(`backtest ${site} ${alarm} ${JSON.stringify(settings)}`)
      return {
        from: NOW - 30 * DAY,
        to: NOW,
        runFrom: NOW - 30 * DAY - HOUR,
        learned: true,
        alarms: { configured: 2, proposed: 1, same: 0 },
        messages: { configured: 3, proposed: 1 },
        changes: [
          {
            change: 'later',
            key: `${alarm}:`,
            title: 'Water has stopped arriving',
            priority: 'high',
            configured: NOW - 9 * DAY,
            proposed: NOW - 9 * DAY + 12 * MINUTE,
          },
          {
            change: 'gone',
            key: `${alarm}:`,
            title: 'Water has stopped arriving',
            priority: 'high',
            configured: NOW - 3 * DAY,
            proposed: null,
          },
        ],
        changesInAll: 2,
      }
    },
    activeAlarms: (site) => (fake.alarmsOf.get(site) ?? []).filter((one) => one.cleared === null),
    alarms: (site) => [
      { ...dryWell(NOW - 9 * DAY), key: 'dry-well:past', state: 'normal', cleared: NOW - 9 * DAY + HOUR },
      ...(fake.alarmsOf.get(site) ?? []),
    ],
    acknowledge: (site, key, by) => {
      const list = fake.alarmsOf.get(site) ?? []
      if (!list.some((one) => one.key === key)) return 'unknown'
      fake.acts.push(`acknowledge ${site} ${key} ${by}`)
      const seen = { state: 'acknowledged', acknowledgedBy: by, acknowledgedAt: fake.clock } as const
      fake.alarmsOf.set(
        site,
        list.map((one) => (one.key === key ? { ...one, ...seen } : one)),
      )
      return 'done'
    },
    shelve: (site, key, until, reason, by) => {
      const list = fake.alarmsOf.get(site) ?? []
      if (!list.some((one) => one.key === key)) return 'unknown'
      fake.acts.push(`shelve ${site} ${key} ${until - fake.clock} ${reason} ${by}`)
      return 'done'
    },
    readLink: (token) => (token === GOOD_TOKEN ? linkTarget(fake.acts.includes('link')) : null),
    useLink: (token) => {
      if (token !== GOOD_TOKEN) return null
      fake.acts.push('link')
      return linkTarget(true)
    },
    journal: (site, from, to) => fake.journalRows.filter((one) => one.site === site && one.at >= from && one.at < to),
    addJournal: (entry) => {
      const row = { ...entry, upkeep: entry.upkeep ?? null, id: fake.journalRows.length + 1 }
      fake.journalRows.push(row)
      return row
    },
    setAway: (site, away, by) => void fake.acts.push(`away ${site} ${away} ${by}`),
    setWinterized: (site, winterized, by) => void fake.acts.push(`season ${site} ${winterized} ${by}`),
    setMaintenance: (site, until, by) => void fake.acts.push(`maintenance ${site} ${until} ${by}`),
    pushKey: () => 'B'.repeat(87),
    pushPeople: () => [{ person: 'ops', way: 'push-1', browsers: 1 }],
    addBrowser: (site, person, way, { endpoint }, by) => {
      if (person !== 'ops' || way !== 'push-1') return false
      fake.acts.push(`browser ${site} ${person} ${way} ${endpoint} ${by}`)
      return true
    },
    removeBrowser: (endpoint) => void fake.acts.push(`no browser ${endpoint}`),
    brokerRefusals: () => [
      {
        reason: 'account',
        who: 'pump-board',
        count: 3,
        first: NOW - 60_000,
        last: NOW,
        example: 'no such account, or a wrong password',
      },
    ],
    refusals: () => [
      {
        reason: 'sentinel',
        board: 'weather-board',
        count: 12,
        first: NOW - DAY,
        last: NOW - HOUR,
        example: '<script>alert(1)</script>',
      },
    ],
    keptAside: () => [
      {
        at: NOW - HOUR,
        board: 'tank-board',
        topic: 'water/juniper/tank-board',
        reason: 'not-senml',
        payload: '{"oops',
      },
    ],
    metrics: () => [
      {
        name: 'sightglass_messages',
        type: 'counter',
        help: 'Messages received.',
        points: [{ labels: { site: 'juniper', board: 'a "quoted" \\ board\nname' }, value: 1234 }],
      },
    ],
    health: () => fake.checks,
    subscribe: (listener) => {
      listeners.add(listener)
      fake.listeners = listeners.size
      return () => {
        listeners.delete(listener)
        fake.listeners = listeners.size
      }
    },
    verify: async (name, secret) => {
      fake.verifications += 1
      const account = fake.accounts.get(name)
      return account === undefined || account.role === 'board' || account.secret !== secret ? null : account.role
    },
    byToken: (text) => fake.tokensOf.get(text) ?? null,
    tokens: () =>
      [...fake.tokensOf.values()].map(({ name, role }) => ({
        name,
        role,
        madeBy: 'ops',
        madeAt: NOW - DAY,
        until: null,
        usedAt: null,
      })),
    makeToken: (site, { name, role, until }, by) => {
      if ([...fake.tokensOf.values()].some((one) => one.name === name)) return 'taken'
      const text = `token-${fake.tokensOf.size + 1}`
      fake.tokensOf.set(text, { name, role })
      fake.acts.push(`token ${site} ${name} ${role} ${until} ${by}`)
      return { text, token: { name, role, madeBy: by, madeAt: fake.clock, until, usedAt: null } }
    },
    revokeToken: (site, name, by) => {
      const found = [...fake.tokensOf].find(([, one]) => one.name === name)
      if (found === undefined) return false
      fake.tokensOf.delete(found[0])
      fake.acts.push(`revoke ${site} ${name} ${by}`)
      return true
    },
    role: (name) => {
      const role = fake.accounts.get(name)?.role
      return role === undefined || role === 'board' ? null : role
    },
  }
  return fake
}

export const BOTH_SITES = [JUNIPER, FERN] as const
