/**
 * The line itself: decode → record → infer → judge → tell, for every site of the daemon. The daemon, `replay`, `import`
 * and `recompute` are this code under different clocks. Samples are committed before anyone is told that they are safe;
 * what follows from them is written in a transaction of its own, messages to people with the alarm that asks for them.
 */
import { createDecoder, type Decoder } from '../decode/decoder.js'
import type { Notice } from '../model/alarm.js'
import type { DaemonFacts } from '../model/daemon-facts.js'
import type { Message } from '../model/message.js'
import type { Arrival, Decoded, RefusalReason } from '../model/sample.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { uplinkTopic } from '../model/uplink.js'
import type { Store } from '../record/store.js'
import type { Log } from '../runtime/log.js'
import type { LinkMaker } from '../tell/compose.js'
import type { Facts } from '../model/facts.js'
import type { FillCycle } from '../model/fill.js'
import { BoardWatch } from './board-watch.js'
import { Pending } from './pending.js'
import { SiteLine } from './site-line.js'
import { unpackArrival } from './uplink/feed.js'
import { Writer } from './writer.js'

/** Reasons for which the whole message is kept to be looked at. */
const UNREADABLE: ReadonlySet<RefusalReason> = new Set(['not-senml', 'too-large', 'unknown-name'])

export type LineEvents = {
  /** Fills that are new, each once. */
  readonly onFill?: (site: SiteSettings, cycles: readonly FillCycle[]) => void
  readonly onNotices?: (site: SiteSettings, notices: readonly Notice[]) => void
  readonly onFacts?: (site: SiteSettings, facts: Facts) => void
  /** Messages that could not be written to the outbox, because the store fails: to be told past it. */
  readonly onUnwritten?: (messages: readonly Message[]) => void
}

export type LineOptions = {
  readonly sites: readonly SiteSettings[]
  readonly store: Store
  readonly log: Log
  readonly judging: boolean
  readonly link: LinkMaker
  readonly latenessMs?: Ms
  readonly events?: LineEvents
  /** A site whose readings trip the program does not hold up the others: for the daemon. Else its error goes through. */
  readonly isolate?: boolean
}

export type LineCounts = {
  messages: number
  samples: number
  refused: number
  late: number
  looks: number
  retainedIgnored: number
}

export class Line {
  readonly sites: readonly SiteLine[]
  readonly counts: LineCounts = { messages: 0, samples: 0, refused: 0, late: 0, looks: 0, retainedIgnored: 0 }
  readonly topics: readonly string[]
  readonly #byId = new Map<string, SiteLine>()
  readonly #decoder: Decoder
  readonly #options: LineOptions
  readonly #boards = new BoardWatch()
  readonly #pending = new Pending()
  readonly #writer: Writer
  /** Topics on which daemons at their places send up what they have. */
  readonly #uplinks = new Map<string, SiteSettings>()
  /** Sites whose last step failed, and how. */
  readonly #broken = new Map<string, string>()
  /** The site whose turn it is to go on going back. */
  #turn = 0

  constructor(options: LineOptions) {
    const { sites, store, judging, events, latenessMs } = options
    this.#options = options
    this.#writer = new Writer({ store, log: options.log, link: options.link, events: events ?? {} })
    this.#decoder = createDecoder(sites)
    for (const site of sites) this.#uplinks.set(uplinkTopic(site.id), site)
    this.topics = [...this.#decoder.topics(), ...this.#uplinks.keys()]
    const onFacts = events?.onFacts
    this.sites = sites.map(
      (site) =>
        new SiteLine({
          site,
          store,
          judging,
          ...(latenessMs === undefined ? {} : { latenessMs }),
          ...(onFacts === undefined ? {} : { onFacts }),
        }),
    )
    for (const line of this.sites) this.#byId.set(line.site.id, line)
  }

  site(id: string): SiteLine | null {
    return this.#byId.get(id) ?? null
  }

  /**
   * Takes messages in, in one commit. When this returns, every sample of them is safe; when it throws StoreError, none
   * is, and the boards must send them again. Retained messages say what was once so, not what is: they are passed over.
   * With `later` nothing is safe before the next commit: for captures, where nobody waits to hear that it is.
   */
  receive(arrivals: readonly Arrival[], when: 'commit' | 'later' = 'commit'): void {
    const { store } = this.#options
    const pending = this.#pending
    pending.clear()
    for (const arrival of arrivals) {
      if (arrival.retain) this.counts.retainedIgnored += 1
      else this.#stage(arrival, pending)
    }
    const late = pending.lateFrom()
    if (late !== null) store.commit(() => this.#dropSnapshots(late))
    else if (when === 'commit') store.commit()
    this.counts.late += pending.take(arrivals.at(-1)?.at ?? 0)
    this.counts.messages += arrivals.length
    this.counts.samples += pending.size
  }

  /**
   * The store fails: nothing is acknowledged or kept, but the alarms go on with what the boards say. When it works again
   * the boards send all of it once more, late, and the days are derived from that.
   */
  watchOnly(arrivals: readonly Arrival[]): void {
    for (const arrival of arrivals) {
      if (arrival.retain) continue
      for (const decoded of this.#decode(arrival)) {
        const site = this.#byId.get(decoded.site)
        for (const sample of decoded.samples) site?.watch(sample.key, sample.t, sample.value)
      }
    }
  }

  /** Takes messages in without looking at them: an import, whose days are derived afterwards. One commit. */
  keep(arrivals: readonly Arrival[], each: (site: string, t: Ms) => void): void {
    const pending = this.#pending
    pending.clear()
    for (const arrival of arrivals) if (!arrival.retain) this.#stage(arrival, pending)
    this.#options.store.commit()
    pending.each((site, t) => each(site.site.id, t))
    this.counts.messages += arrivals.length
    this.counts.samples += pending.size
  }

  /** One sample in SI, kept with the next `commitKept`. Beyond what its role can be it is refused. */
  keepSample(site: SiteLine, index: number, t: Ms, value: number): void {
    const { store } = this.#options
    const signal = site.engine.plan.signals[index]
    const series = site.series[index]
    if (signal === undefined || series === undefined) return
    const board = site.site.boards[signal.board]?.id ?? ''
    const example = `${signal.key} ${value}`
    if (value < signal.spec.low || value > signal.spec.high) {
      store.noteRefusal(site.site.id, { reason: 'out-of-range', board, at: t, example })
      return
    }
    const staged = store.stage(series, t, value)
    if (staged === 'new') this.counts.samples += 1
    else store.noteRefusal(site.site.id, { reason: staged, board, at: t, example })
  }

  commitKept(): void {
    this.#options.store.commit()
  }

  /** What a message holds: a board's own words, or a frame of a daemon at its place. */
  #decode(arrival: Arrival): readonly Decoded[] {
    const site = this.#uplinks.get(arrival.topic)
    if (site === undefined) return this.#decoder.decode(arrival)
    const { decoded, fed } = unpackArrival(site, arrival)
    if (fed !== null) this.#byId.get(site.id)?.feedFrom(fed)
    return [decoded]
  }

  #stage(arrival: Arrival, pending: Pending): void {
    for (const decoded of this.#decode(arrival)) {
      const site = this.#byId.get(decoded.site)
      if (site === undefined) continue
      this.#boards.note(decoded, arrival.at)
      for (const refusal of decoded.refusals) this.#refuse(decoded, arrival, refusal)
      for (const sample of decoded.samples) this.#stageSample(site, decoded, sample, arrival.at, pending)
    }
  }

  #stageSample(site: SiteLine, decoded: Decoded, sample: Decoded['samples'][number], at: Ms, pending: Pending): void {
    const index = site.indexOf(sample.key)
    const series = site.series[index]
    if (series === undefined) return
    const staged = this.#options.store.stage(series, sample.t, sample.value)
    if (staged === 'new') pending.add(site, index, sample.t, sample.value)
    else {
      this.counts.refused += 1
      const example = `${sample.key} ${sample.value} at ${new Date(sample.t).toISOString()}`
      this.#options.store.noteRefusal(decoded.site, { reason: staged, board: decoded.board, at, example })
    }
  }

  #refuse(decoded: Decoded, arrival: Arrival, refusal: Decoded['refusals'][number]): void {
    const { store } = this.#options
    this.counts.refused += 1
    store.noteRefusal(decoded.site, refusal)
    if (!UNREADABLE.has(refusal.reason)) return
    const { at, topic, payload } = arrival
    store.keepAside({ site: decoded.site, board: decoded.board, at, topic, reason: refusal.reason, payload })
  }

  #dropSnapshots(late: ReadonlyMap<SiteLine, Ms>): void {
    for (const [line, from] of late) {
      if (line.lateFrom === null || from < line.lateFrom) this.#options.store.snapshots.dropFrom(line.site.id, from)
    }
  }

  /**
   * Takes every site up to `now` less the lateness window, judges, and writes what follows. Going back to late data is
   * done in pieces of about `samplesMax` samples for all sites together; they take turns. Returns true while there is
   * more of that to do.
   */
  step(now: Ms, daemon: (site: string) => DaemonFacts, samplesMax = Number.POSITIVE_INFINITY): boolean {
    const count = this.sites.length
    const first = this.#turn
    // What a failing store left over belongs before what this step may derive anew.
    if (this.#writer.holding) this.#writer.write(this.sites, now)
    let left = samplesMax
    let more = false
    for (let i = 0; i < count; i++) {
      const at = (first + i) % count
      const line = this.sites[at]
      if (line === undefined) continue
      line.daemon = this.#boards.facts(line.site.id, daemon(line.site.id), now)
      const taken = this.#stepSite(line, now, left)
      left -= taken
      if (taken > 0) this.#turn = (at + 1) % count
      if (line.behind) more = true
    }
    this.#writer.write(this.sites, now)
    return more
  }

  #stepSite(line: SiteLine, now: Ms, samplesMax: number): number {
    const { id } = line.site
    if (this.#options.isolate !== true) return line.step(now, samplesMax)
    try {
      const taken = line.step(now, samplesMax)
      if (this.#broken.delete(id)) this.#options.log.info({ site: id }, 'its readings can be looked at again')
      return taken
    } catch (error) {
      const words = error instanceof Error ? (error.stack ?? error.message) : String(error)
      if (this.#broken.get(id) !== words) this.#options.log.error({ site: id, error: words }, 'a step failed')
      this.#broken.set(id, words)
      return 0
    }
  }

  /** Sites whose last step failed; health and the beat say so. */
  get broken(): readonly string[] {
    return [...this.#broken.keys()]
  }

  /** Hands over all that is open, as at the end of a replay. */
  finish(now: Ms): void {
    for (const line of this.sites) {
      line.finish(now)
      this.#writer.write([line], now)
    }
  }

  /** Writes what a person did to alarms (acknowledge, shelve) with the judge's state. */
  write(line: SiteLine, now: Ms): void {
    this.#writer.write([line], now)
  }

  /** True while something found is not yet on disk. */
  get holding(): boolean {
    return this.#writer.holding
  }
}
