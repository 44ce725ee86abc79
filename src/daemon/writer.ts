/**
 * Writes what steps have found: fills, days, snapshots, alarms, the judge's state and the messages that go with them,
 * for all sites of a step in one transaction, for each transaction waits for the disk. What the disk would not take is
 * kept and tried again.
 */
import type { Notice } from '../model/alarm.js'
import type { FillCycle } from '../model/fill.js'
import { LIMITS } from '../model/limits.js'
import type { Message } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Log } from '../runtime/log.js'
import { compose, type LinkMaker } from '../tell/compose.js'
import type { Findings, SiteLine } from './site-line.js'

export type WriterOptions = {
  readonly store: Store
  readonly log: Log
  readonly link: LinkMaker
  readonly events: {
    readonly onFill?: (site: SiteSettings, cycles: readonly FillCycle[]) => void
    readonly onNotices?: (site: SiteSettings, notices: readonly Notice[]) => void
    readonly onUnwritten?: (messages: readonly Message[]) => void
  }
}

type Found = { readonly line: SiteLine; readonly found: Findings }

export class Writer {
  readonly #options: WriterOptions
  readonly #unwritten = new Map<SiteLine, Findings[]>()

  constructor(options: WriterOptions) {
    this.#options = options
  }

  /** True while something found is not yet on disk. */
  get holding(): boolean {
    return this.#unwritten.size > 0
  }

  write(lines: readonly SiteLine[], now: Ms): void {
    const all: Found[] = []
    for (const line of lines) {
      const found = line.takeFindings()
      if (isNothing(found) && !this.#unwritten.has(line)) continue
      found.messages = found.notices.flatMap((notice) => this.#compose(line, notice, now))
      all.push({ line, found })
    }
    if (all.length === 0) return
    // One that cannot be written must not keep the others from it.
    if (this.#attempt(all) !== null) for (const one of all) this.#alone(one)
    for (const one of all) this.#announce(one)
  }

  /** Whoever was told of an alarm, by escalation too, is told that it is over. A store that cannot say so is no hindrance. */
  #compose(line: SiteLine, notice: Notice, now: Ms): readonly Message[] {
    const { store, link } = this.#options
    const wasTold = (key: string): boolean => {
      try {
        return store.outbox.has(line.site.id, key)
      } catch {
        return false
      }
    }
    return compose(notice, line.site, { now, link, wasTold })
  }

  #alone(one: Found): void {
    const error = this.#attempt([one])
    if (error === null) return
    const { log, events } = this.#options
    log.error(
      { site: one.line.site.id, error: String(error) },
      'what was found could not be written; it is kept and tried again',
    )
    this.#keep(one)
    events.onUnwritten?.(one.found.messages)
  }

  /** Null when it is written, else why not. */
  #attempt(all: readonly Found[]): unknown {
    try {
      this.#options.store.transaction(() => {
        for (const { line, found } of all) {
          for (const earlier of this.#unwritten.get(line) ?? []) this.#put(line, earlier)
          this.#put(line, found)
        }
      })
    } catch (error) {
      return error ?? new Error('unknown')
    }
    for (const { line } of all) this.#unwritten.delete(line)
    return null
  }

  #announce({ line, found }: Found): void {
    const { events } = this.#options
    const fresh = line.unannounced(found.cycles)
    if (fresh.length > 0) events.onFill?.(line.site, fresh)
    if (found.notices.length > 0) events.onNotices?.(line.site, found.notices)
  }

  #put(line: SiteLine, found: Findings): void {
    const { store } = this.#options
    const { id } = line.site
    for (const cycle of found.cycles) store.cycles.put(id, cycle)
    for (const day of found.days.values()) store.days.put(id, day)
    for (const hour of found.energyHours) store.energyHours.put(id, hour)
    for (const { at, text } of found.snapshots) store.snapshots.put(id, at, text)
    for (const alarm of found.alarms.values()) store.alarms.put(id, alarm)
    for (const message of found.messages) store.outbox.add(message)
    if (found.judged) store.judge.save(id, line.judgedAt, JSON.stringify(line.judgeState))
  }

  /** Bounded memory for what the disk would not take; snapshots can be made again and are let go. */
  #keep({ line, found }: Found): void {
    const kept = this.#unwritten.get(line) ?? []
    kept.push({ ...found, snapshots: [] })
    while (kept.length > LIMITS.keptAsideMax) kept.shift()
    this.#unwritten.set(line, kept)
  }
}

function isNothing({ cycles, days, energyHours, snapshots, judged }: Findings): boolean {
  return cycles.length === 0 && days.size === 0 && energyHours.length === 0 && snapshots.length === 0 && !judged
}
