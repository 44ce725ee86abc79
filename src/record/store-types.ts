import type { SignalKey } from '../model/roles.js'
import type { Refusal } from '../model/sample.js'
import type { Ms } from '../model/time.js'
import type { Accounts } from './accounts.js'
import type { Alarms } from './alarms.js'
import type { ChartPoint } from './chart.js'
import type { Cycles } from './cycles.js'
import type { Days } from './days.js'
import type { EnergyHours } from './energy-hours.js'
import type { Journal } from './journal.js'
import type { JudgeStates } from './judge-states.js'
import type { AsideMessage } from './kept-aside.js'
import type { ModeTable } from './modes.js'
import type { Staged } from './open-day.js'
import type { Outbox } from './outbox.js'
import type { PushSubscriptions } from './push-subscriptions.js'
import type { EachSample } from './read-merged.js'
import type { RefusalCount } from './refusals.js'
import type { Salvaged } from './salvage.js'
import type { LastSample } from './samples.js'
import type { SealResult } from './sealing.js'
import type { SeriesName } from './series-names.js'
import type { Snapshots } from './snapshots.js'
import type { Tokens } from './tokens.js'
import type { UplinkQueue } from './uplink-queue.js'
import type { Ways } from './ways.js'

export type StoreSizes = {
  readonly fileBytes: number
  readonly walBytes: number
  readonly series: number
  /** Samples in memory, not yet sealed. */
  readonly openSamples: number
  readonly sealedSamples: number
  readonly blocks: number
  /** Packed bytes of the sealed samples. */
  readonly blockBytes: number
}

/** How the store came up: a file of its own making, one that was there, or a new one in place of a damaged one. */
export type StoreStart =
  | { readonly kind: 'new' }
  | { readonly kind: 'existing' }
  | {
      readonly kind: 'set-aside'
      readonly file: string
      readonly reason: string
      readonly salvaged: readonly Salvaged[]
    }

/**
 * Everything the daemon keeps. One connection writes; every member throws StoreError when the disk will not have it.
 * Members that change small tables commit at once when called alone, or belong to the `transaction` around them.
 */
export type Store = {
  readonly start: StoreStart
  /** The kind of `start` in one word. */
  readonly startedWith: StoreStart['kind']

  /** The number of a signal's series, given out when it is new. Cheap: called for every sample. */
  series(site: string, key: SignalKey): number
  /** All series of a site that have a number. */
  seriesList(site: string): readonly SeriesName[]
  /**
   * Takes one sample in, in memory; it is on disk after `commit`. NaN (the sensor has failed) equals NaN.
   * Throws StoreError `bad-value` when `t` is not whole milliseconds.
   */
  stage(series: number, t: Ms, value: number): Staged
  /**
   * Runs `extra` and writes all that was staged, noted and kept aside in one transaction. When anything fails, all of
   * it is forgotten and a StoreError thrown: what was not acknowledged is sent again.
   */
  commit(extra?: () => void): void
  /** Commits something small, with all that is staged: throws StoreError when the disk will not have it. */
  prove(at: Ms): void
  /** Samples with from ≤ t < to, ascending by time, then by place of the series in the list. */
  read(series: readonly number[], from: Ms, to: Ms, each: EachSample): void
  /** At most about `points` stretches that keep every peak; stretches without samples are left out. */
  chart(series: number, from: Ms, to: Ms, points: number): readonly ChartPoint[]
  lastSample(series: number): LastSample | null
  /** Time of the earliest sample that is still stored (`prune` drops old ones); null: none is. */
  firstSample(series: number): Ms | null

  /** Counts a refused record; written with the next commit. */
  noteRefusal(site: string, refusal: Refusal): void
  refusals(site: string): readonly RefusalCount[]
  /** Keeps a message that cannot be read, bounded; written with the next commit. */
  keepAside(message: AsideMessage): void
  keptAside(site: string): readonly AsideMessage[]

  readonly snapshots: Snapshots
  readonly cycles: Cycles
  readonly days: Days
  readonly energyHours: EnergyHours
  readonly alarms: Alarms
  readonly judge: JudgeStates
  readonly outbox: Outbox
  readonly ways: Ways
  readonly push: PushSubscriptions
  readonly journal: Journal
  readonly modes: ModeTable
  readonly accounts: Accounts
  readonly tokens: Tokens
  readonly uplink: UplinkQueue
  /** Number of the newest row of the sample log: one row for each commit with samples. */
  logEnd(): number
  /** Hands out committed samples in the order of commits, of at most `rowsMax` rows after `seq`; returns the last row read. */
  logSince(seq: number, rowsMax: number, each: (series: number, t: Ms, value: number) => void): number
  /** 32 random bytes under a name, made at first use and the same ever after. */
  secret(name: string): Buffer

  /** Runs `fn` in one transaction; inside another it joins that one. What `fn` throws goes through after the rollback. */
  transaction<T>(fn: () => T): T
  /** Whether `seal` has something to do. Cheap enough to ask every few seconds. */
  sealDue(now: Ms): boolean
  /**
   * Packs finished days, a bounded piece at each call (`left` > 0: call again soon), and trims the log. Not between
   * `stage` and `commit`: a block must not hold what may yet be forgotten.
   */
  seal(now: Ms, samplesMax?: number): SealResult
  /** Drops samples of days more than `keepDays` ago, and hourly roll-ups past their time. Daily roll-ups stay. */
  prune(now: Ms, keepDays: number): { readonly blocks: number }
  /** A consistent, proved copy while work goes on. Replaces `file` only when the copy is whole. */
  backup(file: string): Promise<void>
  /** A sentence for each thing that is wrong with the file; none: it is whole. Slow: reads all of it. */
  check(): string[]
  /** Damaged blocks met while reading so far; they read as if they were empty. */
  troubles(): readonly string[]
  sizes(): StoreSizes
  /** Throws away what is staged, folds the write-ahead log into the file and gives the file free. Harmless twice. */
  close(): void
}
