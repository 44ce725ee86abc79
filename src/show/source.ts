/**
 * Everything that the HTTP API and the page ask of the running program. `src/daemon` implements it; tests hand in a
 * made-up one. Reads are synchronous and cheap (facts in memory, short queries); nothing here throws for a site that
 * exists. `site` is always one of `sites()`: the routes check it first.
 */
import type { Alarm, AlarmId } from '../model/alarm.js'
import type { BacktestAnswer } from '../model/backtest.js'
import type { Facts } from '../model/facts.js'
import type { Day, FillCycle } from '../model/fill.js'
import type { JournalEntry, Modes } from '../model/modes.js'
import type { NewEntry } from '../record/journal.js'
import type { RoleId, SignalKey } from '../model/roles.js'
import type { RefusalReason } from '../model/sample.js'
import type { SiteSettings } from '../model/settings.js'
import type { SizingResult } from '../model/sizing.js'
import type { Ms } from '../model/time.js'

/** Who may do what: viewer reads, owner also acts; boards only publish and never come here. */
export type PersonRole = 'owner' | 'viewer'

/** The newest sample of one signal; NaN is "the sensor said that it failed"; `sample` null: never heard. */
export type LatestSample = {
  readonly key: SignalKey
  readonly role: RoleId
  readonly board: string
  readonly sample: { readonly t: Ms; readonly value: number } | null
}

/** When a way of telling was last seen to work, and what went wrong since. */
export type WayState = {
  readonly way: string
  readonly kind: string
  readonly provedAt: Ms | null
  readonly error: string | null
}

/** What is so at one site now. */
export type SiteState = {
  /** Facts of the last look; null before the first. */
  readonly facts: Facts | null
  readonly modes: Modes
  readonly latest: readonly LatestSample[]
  readonly ways: readonly WayState[]
}

/** One bucket of a chart: `min`, `max`, `mean` of `n` samples in [from, to). Same shape as the store's. */
export type SeriesPoint = {
  readonly from: Ms
  readonly to: Ms
  readonly n: number
  readonly min: number
  readonly max: number
  readonly mean: number
}

export type RefusalCount = {
  readonly reason: RefusalReason
  readonly board: string
  readonly count: number
  readonly first: Ms
  readonly last: Ms
  readonly example: string
}

/** A message that could not be read and was set aside to be looked at. `payload` is already shortened text. */
export type AsideMessage = {
  readonly at: Ms
  readonly board: string
  readonly topic: string
  readonly reason: string
  readonly payload: string
}

/** One OpenMetrics family. The unit, where given, is the name's last word. */
export type MetricFamily = {
  readonly name: string
  readonly type: 'counter' | 'gauge' | 'stateset' | 'info'
  readonly help: string
  readonly unit?: string
  readonly points: readonly { readonly labels: Readonly<Record<string, string>>; readonly value: number }[]
}

/** One check of the daemon on itself. `reason` is a sentence that says nothing private. */
export type HealthCheck = { readonly name: string; readonly ok: boolean; readonly reason: string }

/** Tells listeners that something changed and should be asked for again. */
export type ShowEvent = {
  readonly site: string
  readonly kind: 'now' | 'alarms' | 'cycles' | 'journal' | 'modes'
  readonly at: Ms
}

/** What an acknowledging link points at. */
export type LinkTarget = {
  readonly site: string
  readonly siteName: string
  readonly title: string
  /** True when somebody has acknowledged it already, or it has cleared. */
  readonly settled: boolean
}

/** `done`, also when it had been done before; `unknown`: no such alarm is active. */
export type ActOutcome = 'done' | 'unknown'

/** How often one name was turned away for one reason. */
export type BrokerRefusal = {
  readonly reason: string
  /** Account, or client id where no account was given. */
  readonly who: string
  readonly count: number
  readonly first: Ms
  readonly last: Ms
  readonly example: string
}

/** What may be shown of a script's token: never its text. */
export type ShownToken = {
  readonly name: string
  readonly role: PersonRole
  readonly madeBy: string
  readonly madeAt: Ms
  /** Good before this instant; null: until it is revoked. */
  readonly until: Ms | null
  readonly usedAt: Ms | null
}

export type AskedToken = { readonly name: string; readonly role: PersonRole; readonly until: Ms | null }
export type MadeToken = { readonly text: string; readonly token: ShownToken }

export type ShowSource = {
  /** The daemon's wall clock. */
  readonly now: () => Ms
  readonly sites: () => readonly SiteSettings[]
  readonly state: (site: string) => SiteState
  /** At most `points` buckets over [from, to), empty ones left out, extremes kept. */
  readonly chart: (site: string, key: SignalKey, from: Ms, to: Ms, points: number) => readonly SeriesPoint[]
  /** Fills that began in [from, to), the newest `limit` of them, ascending. */
  readonly cycles: (site: string, from: Ms, to: Ms, limit: number) => readonly FillCycle[]
  /** Days from `fromDate` to `toDate`, both included, ascending; YYYY-MM-DD in the site's zone. */
  readonly days: (site: string, fromDate: string, toDate: string) => readonly Day[]
  /** Panel and battery sizes, worked out in the background; `busy`: too many wait already. Litres a day, days a year. */
  readonly sizing: (site: string, needL: number | null, shortDays: number) => Promise<SizingResult | 'busy'>
  /** What an alarm with other settings would have said of the last month; `busy`: another is being tried. */
  readonly backtest: (
    site: string,
    alarm: AlarmId,
    settings: Readonly<Record<string, number>>,
  ) => Promise<BacktestAnswer | 'busy'>
  /** Occurrences that have not cleared, the returned-but-unacknowledged and shelved ones included. */
  readonly activeAlarms: (site: string) => readonly Alarm[]
  /** Occurrences raised in [from, to), ascending. */
  readonly alarms: (site: string, from: Ms, to: Ms) => readonly Alarm[]
  readonly acknowledge: (site: string, key: string, by: string) => ActOutcome
  readonly shelve: (site: string, key: string, until: Ms, reason: string, by: string) => ActOutcome
  /** Reads a signed link without doing anything; null: forged, or past its 7 days. */
  readonly readLink: (token: string) => LinkTarget | null
  /** Acknowledges what the link points at; harmless twice. */
  readonly useLink: (token: string) => LinkTarget | null
  readonly journal: (site: string, from: Ms, to: Ms) => readonly JournalEntry[]
  readonly addJournal: (entry: NewEntry) => JournalEntry
  /** `away` null: back to the calendar and the `occupied` signal. */
  readonly setAway: (site: string, away: boolean | null, by: string) => void
  readonly setWinterized: (site: string, winterized: boolean, by: string) => void
  /** `until` null ends maintenance now. */
  readonly setMaintenance: (site: string, until: Ms | null, by: string) => void
  /** The public key of web push (RFC 8292), base64url. */
  readonly pushKey: () => string
  /** Every person and way of a site by which browsers can be told, and how many are. */
  readonly pushPeople: (
    site: string,
  ) => readonly { readonly person: string; readonly way: string; readonly browsers: number }[]
  /** False where that person is not told by such a way. */
  readonly addBrowser: (
    site: string,
    person: string,
    way: string,
    browser: { readonly endpoint: string; readonly p256dh: string; readonly auth: string },
    by: string,
  ) => boolean
  readonly removeBrowser: (endpoint: string) => void
  readonly refusals: (site: string) => readonly RefusalCount[]
  /** What the broker turned away before it was a message, since the start. */
  readonly brokerRefusals: (site: string) => readonly BrokerRefusal[]
  readonly keptAside: (site: string) => readonly AsideMessage[]
  /** Counters of every room; gauges of the sites are added by the API. Names begin with `sightglass_`. */
  readonly metrics: () => readonly MetricFamily[]
  readonly health: () => readonly HealthCheck[]
  /** Returns the function that ends the subscription. The listener must not throw and is called often (each look). */
  readonly subscribe: (listener: (event: ShowEvent) => void) => () => void
  /** The role of a person's account, or null: wrong name or secret, or a board's account. Slow on purpose (scrypt). */
  readonly verify: (name: string, secret: string) => Promise<PersonRole | null>
  /** What a script is allowed that gives this token; null: none such, ended or revoked. Cheap. */
  readonly byToken: (text: string) => { readonly name: string; readonly role: PersonRole } | null
  readonly tokens: () => readonly ShownToken[]
  /** Makes a token for a script and returns its text, which is never shown again; `taken`, `full`: it was not made. */
  readonly makeToken: (site: string, token: AskedToken, by: string) => MadeToken | 'taken' | 'full'
  /** False when there is none of that name. */
  readonly revokeToken: (site: string, name: string, by: string) => boolean
  /** The present role of a person's account, so that taking an account away ends its sessions at once. */
  readonly role: (name: string) => PersonRole | null
}

/** A request that was turned away. Holds nothing that the request carried but its route. */
export type PageRefusal = {
  readonly status: number
  readonly route: string
  /** The address it came from. */
  readonly from: string
  readonly why: string
}

/** Where boards connect. */
export type BrokerPlace = {
  readonly kind: 'embedded' | 'external'
  readonly host: string
  readonly port: number
  readonly tls: boolean
  readonly anonymous: boolean
}

/** What `createApp` is given. */
export type AppDeps = {
  readonly source: ShowSource
  /** `open`: bound to loopback and everybody there is the owner; `accounts`: a session is needed. */
  readonly access: 'open' | 'accounts'
  /** Unguessable bytes for session ids (node:crypto randomBytes in the daemon). */
  readonly randomBytes: (count: number) => Uint8Array
  /** PEM text of the page's own key and certificate; null: plain HTTP. */
  readonly tls: { readonly key: string; readonly cert: string } | null
  /** Told to people who connect a board. */
  readonly broker: BrokerPlace
  /** Folder of the built page; null: API only. */
  readonly pageDir: string | null
  /** Version shown in the OpenAPI document. */
  readonly version: string
  /** Told of every error that was answered with 500; never of secrets. */
  readonly onError: (error: unknown, route: string) => void
  /** Told of every request that was turned away though it tried: a wrong secret, no right to, too much, too often. */
  readonly onRefused?: (refusal: PageRefusal) => void
}
