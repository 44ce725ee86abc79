/** Works the outbox: hands each way its due rows, keeps ways from holding one another, knows who cannot be reached. */
import { LIMITS } from '../model/limits.js'
import type { Message, OutboxRow } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { type After, afterTimeout, attempt, errorWords } from './attempt.js'
import { type Courier, type TellLog, type WayAtWork, workWay } from './deliver.js'
import type { OutboxStore } from './outbox-store.js'
import { type TestResult, tellTest } from './tell-test.js'
import type { Way } from './way.js'
import { openWayBook, type Unreachable, type WayState, wayAddress } from './way-book.js'

export type TellerOptions = {
  readonly store: OutboxStore
  readonly sites: readonly SiteSettings[]
  /** By `wayAddress(site, way)`; see `openWays`. */
  readonly ways: ReadonlyMap<string, Way>
  readonly clock: { now(): Ms }
  readonly log: TellLog
  /** For deadlines and rounds; real timers unless given. */
  readonly after?: After
}

export type Teller = {
  /** One round: starts what is due and resolves when that is done. Rounds may overlap; no row is sent twice at once. */
  tick(now: Ms): Promise<void>
  /** A round now and each `everyMs` after it. */
  start(everyMs: number): void
  /** No further rounds; resolves when what is under way has ended, at the latest after the delivery deadline. */
  stop(): Promise<void>
  /** People of a site of whom no way works. */
  unreachable(site: string): readonly Unreachable[]
  /** Since when some person of the site cannot be reached at all; null: everyone can. */
  failingSince(site: string): Ms | null
  wayStates(site: string): readonly WayState[]
  /** Sends a marked test message through every way of a site, past the outbox, and answers what each said. */
  test(site: string): Promise<readonly TestResult[]>
  /**
   * Sends past the outbox, for when the store cannot take messages; a message that got through is not sent again.
   *
   * @returns the messages that did not get through
   */
  direct(messages: readonly Message[]): Promise<readonly Message[]>
}

type Round = { readonly work: WayAtWork; readonly rows: OutboxRow[]; readonly failing: boolean }

/** Rows that nobody can deliver: their way or site has left the configuration. */
function orphan(store: OutboxStore, row: OutboxRow): void {
  store.outbox.failed(row.id, `the way "${row.way}" of site "${row.site}" is no longer configured`)
}

class OutboxTeller implements Teller {
  readonly #options: TellerOptions
  readonly #courier: Courier
  readonly #sites: ReadonlyMap<string, SiteSettings>
  readonly #running = new Map<string, { readonly failing: boolean; readonly done: Promise<void> }>()
  /** What became of messages past the outbox, by key: they may come to it later. Bounded: see `direct`. */
  readonly #direct = new Map<string, 'under way' | 'sent'>()
  #callOff: (() => void) | null = null
  #stopped = false

  constructor(options: TellerOptions) {
    const { store, sites, clock, log, after = afterTimeout } = options
    this.#options = options
    this.#sites = new Map(sites.map((site) => [site.id, site]))
    const book = openWayBook(sites, store)
    this.#courier = { store, book, clock, after, log, unwritten: new Map(), lastTried: new Map() }
  }

  async tick(now: Ms): Promise<void> {
    const started = this.#rounds(now).flatMap((round) => {
      const done = this.#begin(round, now)
      return done === null ? [] : [done]
    })
    await Promise.all(started)
  }

  /** The due rows by way, ways that work first. */
  #rounds(now: Ms): readonly Round[] {
    const { store, ways } = this.#options
    const rounds = new Map<string, Round>()
    for (const row of store.outbox.due(now, LIMITS.deliveryBatchMax)) {
      const address = wayAddress(row.site, row.way)
      const site = this.#sites.get(row.site)
      const way = ways.get(address)
      if (this.#wentPast(row, now)) continue
      if (site === undefined || way === undefined) {
        orphan(store, row)
        continue
      }
      const round = rounds.get(address)
      if (round !== undefined) {
        round.rows.push(row)
        continue
      }
      const failing = this.#courier.book.get(row.site, row.way).failingSince !== null
      rounds.set(address, { work: { site, id: row.way, way }, rows: [row], failing })
    }
    return [...rounds.values()].sort((a, b) => Number(a.failing) - Number(b.failing))
  }

  /** The store was down when this message was made, and it went out (or is going out) without it: not twice. */
  #wentPast({ id, key }: OutboxRow, now: Ms): boolean {
    const state = this.#direct.get(key)
    if (state === 'sent') this.#options.store.outbox.sent(id, now)
    return state !== undefined
  }

  /** Starts a way unless it is at work already or all places are taken; failing ways may take only some of them. */
  #begin({ work, rows, failing }: Round, now: Ms): Promise<void> | null {
    const address = wayAddress(work.site.id, work.id)
    const failingNow = [...this.#running.values()].filter((other) => other.failing).length
    if (this.#stopped || this.#running.has(address) || this.#running.size >= LIMITS.deliveryWaysMax) return null
    if (failing && failingNow >= LIMITS.deliveryFailingWaysMax) return null
    const done = workWay(this.#courier, work, rows, now)
      .catch((error: unknown) => {
        this.#options.log.error({ site: work.site.id, way: work.id, error: errorWords(error) }, 'telling stopped short')
      })
      .finally(() => this.#running.delete(address))
    this.#running.set(address, { failing, done })
    return done
  }

  start(everyMs: number): void {
    const { clock, log, after = afterTimeout } = this.#options
    // Said once until it changes: a disk that is full for a day is one line, not thousands.
    let said = ''
    const round = () => {
      if (this.#stopped) return
      this.#callOff = after(everyMs, round)
      this.tick(clock.now()).catch((error: unknown) => {
        const words = errorWords(error)
        if (words !== said) log.error({ error: words }, 'outbox: cannot be read')
        said = words
      })
    }
    this.#callOff?.()
    round()
  }

  async stop(): Promise<void> {
    this.#stopped = true
    this.#callOff?.()
    await Promise.all([...this.#running.values()].map(({ done }) => done))
  }

  unreachable(site: string): readonly Unreachable[] {
    const settings = this.#sites.get(site)
    return settings === undefined ? [] : this.#courier.book.unreachable(settings)
  }

  failingSince(site: string): Ms | null {
    const since = this.unreachable(site).map((person) => person.since)
    return since.length === 0 ? null : Math.min(...since)
  }

  wayStates(site: string): readonly WayState[] {
    const known = new Map(this.#courier.book.list(site).map((state) => [state.way, state]))
    const configured = this.#sites.get(site)?.tell.ways ?? []
    return configured.map(({ id }) => known.get(id) ?? this.#courier.book.get(site, id))
  }

  async test(site: string): Promise<readonly TestResult[]> {
    const settings = this.#sites.get(site)
    if (settings === undefined) return []
    const { clock, after = afterTimeout, ways, store } = this.#options
    const results = await tellTest(settings, { ways, now: clock.now(), after })
    for (const { way, ok, error } of results) {
      const at = clock.now()
      if (ok) this.#courier.book.worked(site, way, at)
      else this.#courier.book.failed(site, way, at, error ?? '')
      store.ways.note(site, way, at, error)
    }
    return results
  }

  async direct(messages: readonly Message[]): Promise<readonly Message[]> {
    const { ways, after = afterTimeout } = this.#options
    if (this.#direct.size >= LIMITS.outboxMax) this.#direct.clear()
    const left = messages.filter(({ key }) => !this.#direct.has(key))
    for (const { key } of left) this.#direct.set(key, 'under way')
    const results = await Promise.all(
      left.map(async (message) => {
        const way = ways.get(wayAddress(message.site, message.way))
        const sent = way !== undefined && (await attempt(way, message, after)).ok
        if (sent) this.#direct.set(message.key, 'sent')
        else this.#direct.delete(message.key)
        return sent ? null : message
      }),
    )
    return results.filter((message) => message !== null)
  }
}

/** A teller over an outbox. Nothing happens before `tick` or `start`. */
export function createTeller(options: TellerOptions): Teller {
  return new OutboxTeller(options)
}
