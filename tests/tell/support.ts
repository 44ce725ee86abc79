import type { Alarm, Notice, NoticeReason } from '../../src/model/alarm.js'
import type { Message, OutboxRow, OutboxState } from '../../src/model/message.js'
import type { PersonSettings, SiteSettings, TellSettings, WaySettings } from '../../src/model/settings.js'
import { MINUTE } from '../../src/model/time.js'
import type { OutboxStore, WayRecord } from '../../src/tell/outbox-store.js'
import type { SendResult, Way } from '../../src/tell/way.js'

/** Tue 3 Feb 2026, 14:05 in Denver (UTC-7). */
export const AFTERNOON = Date.UTC(2026, 1, 3, 21, 5)

export const MAIL: WaySettings = {
  kind: 'email',
  id: 'mail-1',
  host: '127.0.0.1',
  port: 2525,
  secure: false,
  username: null,
  password: null,
  from: 'sightglass@juniper.example',
  to: 'ops@town.example',
  short: false,
}
export const HOOK: WaySettings = {
  kind: 'webhook',
  id: 'hook-1',
  url: 'http://127.0.0.1:1/',
  secret: 'a shared secret',
}
export const TOPIC: WaySettings = { kind: 'mqtt', id: 'mqtt-1', topic: 'told/juniper' }

export const OPS: PersonSettings = { name: 'ops', ways: ['mail-1'], quiet: [22 * 60, 7 * 60], least: 'low' }

export function tellSettings(changes: Partial<TellSettings> = {}): TellSettings {
  return {
    people: [OPS],
    ways: [MAIL, HOOK, TOPIC],
    escalate: null,
    repeat: { afterS: 3_600, everyS: 86_400, most: 7 },
    digest: null,
    report: { monthly: [], weekly: [] },
    selfTest: 'never',
    ...changes,
  }
}

export function siteSettings(changes: Partial<SiteSettings> = {}): SiteSettings {
  return {
    id: 'juniper',
    name: 'Juniper Bench',
    timezone: 'America/Denver',
    latitudeDeg: 38.5,
    longitudeDeg: -109,
    elevationM: 1_800,
    units: 'us',
    boards: [],
    tank: null,
    well: { liftM: null, restAfterDryS: 1_800 },
    pump: { nominalVoltageV: 24, runningCurrentA: null, longestFillS: 7_200 },
    battery: null,
    array: null,
    lines: [],
    water: { people: 2, dailyNeedL: null },
    away: { usual: 'home', calendar: [] },
    season: { winterized: false },
    upkeep: [],
    alarms: {},
    tell: tellSettings(),
    ...changes,
  }
}

export function alarm(changes: Partial<Alarm> = {}): Alarm {
  return {
    key: 'dry-well:',
    id: 'dry-well',
    subject: '',
    priority: 'high',
    state: 'unacknowledged',
    since: AFTERNOON,
    raised: AFTERNOON + 2 * MINUTE,
    cleared: null,
    cause: 'light-current',
    evidence: [
      { label: 'Pump current', quantity: 'current', value: 1, usual: 2.8 },
      { label: 'Water left', quantity: 'volume', value: 1_000, usual: null },
    ],
    words: {
      title: 'The pump runs and no water arrives',
      what: 'The pump has been running light since 14:05: 1.00 A, usual 2.80 A. The tank has not risen since.',
      causes: ['The well is pumped down.', 'The pump has lost its prime.'],
      action: 'Switch the pump off at the box. Let the well rest for half an hour.',
      ifIgnored: 'A pump that runs dry can be ruined within the hour.',
      caution: 'Switch off the battery side before you open the box.',
      timeLeft: 'About an hour.',
    },
    acknowledgedBy: null,
    acknowledgedAt: null,
    shelvedUntil: null,
    shelveReason: null,
    explainedBy: null,
    raisesInDay: 1,
    ...changes,
  }
}

export function notice(reason: NoticeReason = 'raised', changes: Partial<Alarm> = {}): Notice {
  const about = alarm(changes)
  const at = reason === 'cleared' ? (about.cleared ?? about.raised) : about.raised
  return { at, reason, alarm: about }
}

export function message(changes: Partial<Message> = {}): Message {
  return {
    site: 'juniper',
    key: 'juniper/dry-well%3A/1/raised/ops/mail-1',
    kind: 'alarm',
    person: 'ops',
    way: 'mail-1',
    about: 'dry-well:',
    priority: 'high',
    at: AFTERNOON,
    subject: 'Juniper Bench: The pump runs and no water arrives',
    text: 'The pump has been running light since 14:05.\n',
    html: '<!doctype html><p>The pump has been running light since 14:05.</p>',
    short: 'Juniper Bench: The pump runs and no water arrives, since 14:05.',
    due: AFTERNOON,
    ...changes,
  }
}

export type FakeStore = OutboxStore & {
  readonly rows: OutboxRow[]
  readonly notes: WayRecord[]
  /** While set, every write throws it. */
  broken: Error | null
}

/** The outbox in memory, with the meaning that the store's own has. */
export function fakeStore(): FakeStore {
  const rows: OutboxRow[] = []
  const notes: WayRecord[] = []
  const change = (id: number, with_: Partial<OutboxRow>): void => {
    if (store.broken !== null) throw store.broken
    const at = rows.findIndex((row) => row.id === id)
    const row = rows[at]
    if (row === undefined) throw new Error(`no row ${id}`)
    rows[at] = { ...row, ...with_ }
  }
  const end = (id: number, state: OutboxState, with_: Partial<OutboxRow>) => {
    const row = rows.find((one) => one.id === id)
    change(id, { state, attempts: (row?.attempts ?? 0) + 1, ...with_ })
  }
  const store: FakeStore = {
    rows,
    notes,
    broken: null,
    transaction: (fn) => fn(),
    outbox: {
      add(added) {
        if (store.broken !== null) throw store.broken
        if (rows.some(({ key }) => key === added.key)) return false
        const id = rows.length + 1
        rows.push({ ...added, id, state: 'waiting', attempts: 0, nextAt: added.due, sentAt: null, error: null })
        return true
      },
      due: (now, limit) => rows.filter((row) => row.state === 'waiting' && row.nextAt <= now).slice(0, limit),
      sent: (id, at) => end(id, 'sent', { sentAt: at, error: null }),
      retry: (id, nextAt, error) => end(id, 'waiting', { nextAt, error }),
      failed: (id, error) => end(id, 'failed', { error }),
      list: (site, limit) =>
        rows
          .filter((row) => row.site === site)
          .slice(-limit)
          .reverse(),
    },
    ways: {
      note(site, way, at, error) {
        if (store.broken !== null) throw store.broken
        const known = notes.findIndex((one) => one.way === way)
        const before = notes[known] ?? { way, provedAt: null, error: null, errorAt: null }
        const after =
          error === null ? { way, provedAt: at, error: null, errorAt: null } : { ...before, error, errorAt: at }
        if (site !== '') notes.splice(known < 0 ? notes.length : known, known < 0 ? 0 : 1, after)
      },
      list: () => notes,
    },
  }
  return store
}

export type Collected = { readonly at: number; readonly subject: string; readonly key: string; readonly text: string }

/** A way that keeps what it is given and answers as it is told to. */
export function collector(now: () => number): Way & { got: Collected[]; answer: () => Promise<SendResult> } {
  const way = {
    kind: 'mqtt' as const,
    got: [] as Collected[],
    answer: async (): Promise<SendResult> => ({ ok: true }),
    async send({ subject, key, text }: Message): Promise<SendResult> {
      const result = await way.answer()
      if (result.ok) way.got.push({ at: now(), subject, key, text })
      return result
    },
  }
  return way
}

export const SILENT_LOG = { info() {}, warn() {}, error() {} }
