import { existsSync, statSync } from 'node:fs'
import type { Ms } from '../model/time.js'
import { DAY } from '../model/time.js'
import { createAccounts } from './accounts.js'
import { createAlarms } from './alarms.js'
import { backupOpen } from './backup.js'
import { Blocks } from './blocks.js'
import { chart } from './chart.js'
import { createCycles } from './cycles.js'
import { createDays } from './days.js'
import { createEnergyHours } from './energy-hours.js'
import { createJournal } from './journal.js'
import { createJudgeStates } from './judge-states.js'
import { KeptAside } from './kept-aside.js'
import { createModes } from './modes.js'
import { MEMORY, type OpenOptions, openFile, setAside, takeOwnership, watchPlace } from './open-file.js'
import { createOutbox } from './outbox.js'
import { createProof } from './proof.js'
import { createPushSubscriptions } from './push-subscriptions.js'
import { readMerged } from './read-merged.js'
import { Refusals } from './refusals.js'
import { Rollups } from './rollups.js'
import { salvage } from './salvage.js'
import { SampleLog } from './sample-log.js'
import { Samples } from './samples.js'
import { Sealing } from './sealing.js'
import { createSecrets } from './secrets.js'
import { SeriesNames } from './series-names.js'
import { createSnapshots } from './snapshots.js'
import type { Sql } from './sql.js'
import { StoreError, toStoreError } from './store-error.js'
import type { Store, StoreSizes, StoreStart } from './store-types.js'
import { createTokens } from './tokens.js'
import { createUplinkQueue, type UplinkQueue } from './uplink-queue.js'
import { createWays } from './ways.js'

export type { OpenOptions } from './open-file.js'
export type { Store } from './store-types.js'

/** The parts that share the connection and the memory of samples. */
type Parts = {
  readonly sql: Sql
  readonly empty: boolean
  readonly checkPlace: () => void
  readonly names: SeriesNames
  readonly log: SampleLog
  readonly uplink: UplinkQueue
  readonly rollups: Rollups
  readonly blocks: Blocks
  readonly samples: Samples
  readonly sealing: Sealing
  readonly refusals: Refusals
  readonly aside: KeptAside
}

function openParts(options: OpenOptions): Parts {
  const { sql, empty } = openFile(options)
  try {
    const uplink = createUplinkQueue(sql)
    const log = new SampleLog(sql, uplink.cursor() ?? 0)
    const rollups = new Rollups(sql)
    const blocks = new Blocks(sql, rollups)
    const samples = new Samples(log, blocks)
    const names = new SeriesNames(sql)
    samples.load()
    const sealing = new Sealing({ sql, log, blocks, samples })
    const refusals = new Refusals(sql)
    const aside = new KeptAside(sql)
    const checkPlace = watchPlace(options.file)
    return { sql, empty, checkPlace, names, log, uplink, rollups, blocks, samples, sealing, refusals, aside }
  } catch (error) {
    sql.close()
    throw error
  }
}

/** Opens the parts; a damaged file is moved aside, what can be is saved from it, and a new one begun. */
function openOrSetAside(options: OpenOptions): { readonly parts: Parts; readonly start: StoreStart } {
  try {
    const parts = openParts(options)
    return { parts, start: { kind: parts.empty ? 'new' : 'existing' } }
  } catch (error) {
    const found = toStoreError(error, `open ${options.file}`)
    if (found.code !== 'corrupt' || options.file === MEMORY || options.readOnly === true) throw found
    const file = setAside(options.file, options.now)
    openParts(options).sql.close()
    const salvaged = salvage(file, options.file)
    return { parts: openParts(options), start: { kind: 'set-aside', file, reason: found.message, salvaged } }
  }
}

function commit(parts: Parts, extra: (() => void) | undefined): void {
  const { sql, names, log, samples, refusals, aside } = parts
  if (sql.inTransaction) throw new StoreError('failed', 'commit inside a transaction: give the work to commit as extra')
  const nothing = log.stagedCount === 0 && !refusals.pending && !aside.pending
  if (nothing && extra === undefined) return
  try {
    parts.checkPlace()
    sql.transaction(() => {
      // First, so that what it stages or notes itself is written too.
      extra?.()
      names.write()
      log.write()
      refusals.write()
      aside.write()
    })
  } catch (error) {
    samples.forgetStaged()
    refusals.clear()
    aside.clear()
    throw toStoreError(error, 'commit')
  }
  names.written()
  log.clear()
  refusals.clear()
  aside.clear()
}

function bytesOf(file: string): number {
  return file !== MEMORY && existsSync(file) ? statSync(file).size : 0
}

function sizes(parts: Parts, file: string): StoreSizes {
  const { blocks, samples, bytes } = parts.blocks.totals()
  return {
    fileBytes: bytesOf(file),
    walBytes: bytesOf(`${file}-wal`),
    series: parts.names.count,
    openSamples: parts.samples.openCount,
    sealedSamples: samples,
    blocks,
    blockBytes: bytes,
  }
}

function check({ sql, blocks }: Parts): string[] {
  const answers = sql.pragmaColumn('integrity_check(100)')
  return [...answers.filter((answer) => answer !== 'ok'), ...blocks.check()]
}

function prune(parts: Parts, now: Ms, keepDays: number): { blocks: number } {
  if (!(keepDays >= 1)) throw new StoreError('bad-value', `prune: found ${keepDays} days to keep, expected 1 or more`)
  const dropped = parts.sql.transaction(() => {
    parts.rollups.prune(now)
    return parts.blocks.dropBefore(Math.floor(now / DAY - keepDays))
  })
  parts.samples.forgetLast()
  return { blocks: dropped }
}

function tables(sql: Sql) {
  return {
    snapshots: createSnapshots(sql),
    cycles: createCycles(sql),
    days: createDays(sql),
    energyHours: createEnergyHours(sql),
    alarms: createAlarms(sql),
    judge: createJudgeStates(sql),
    outbox: createOutbox(sql),
    ways: createWays(sql),
    push: createPushSubscriptions(sql),
    journal: createJournal(sql),
    modes: createModes(sql),
    accounts: createAccounts(sql),
    tokens: createTokens(sql),
    secret: createSecrets(sql),
  }
}

function storeOf(parts: Parts, start: StoreStart, options: OpenOptions, release: () => void): Store {
  const { sql, samples, names, refusals, aside, sealing } = parts
  const proof = createProof(sql)
  let open = true
  return {
    ...tables(sql),
    start,
    startedWith: start.kind,
    series: (site, key) => names.id(site, key),
    seriesList: (site) => names.list(site),
    stage: (series, t, value) => samples.stage(series, t, value),
    uplink: parts.uplink,
    logEnd: () => parts.log.end(),
    logSince: (seq, rowsMax, each) => parts.log.since(seq, rowsMax, each),
    commit: (extra) => commit(parts, extra),
    prove: (at) => commit(parts, () => proof(at)),
    read: (series, from, to, each) => readMerged(samples, series, from, to, each),
    chart: (series, from, to, points) => chart(parts, series, from, to, points),
    lastSample: (series) => samples.last(series),
    firstSample: (series) => samples.first(series),
    noteRefusal: (site, refusal) => refusals.note(site, refusal),
    refusals: (site) => refusals.list(site),
    keepAside: (message) => aside.keep(message),
    keptAside: (site) => aside.list(site),
    transaction: (fn) => sql.transaction(fn),
    sealDue: (now) => sealing.due(now),
    seal: (now, samplesMax) => sealing.seal(now, samplesMax),
    prune: (now, keepDays) => prune(parts, now, keepDays),
    backup: (target) => backupOpen(sql, target),
    check: () => check(parts),
    troubles: () => parts.blocks.troubles(),
    sizes: () => sizes(parts, options.file),
    close() {
      if (!open) return
      open = false
      try {
        if (options.readOnly !== true) sql.foldLog()
      } catch {
        // A full or dying disk: the write-ahead log stays and is read at the next start.
      } finally {
        sql.close()
        release()
      }
    },
  }
}

/**
 * Opens the store, makes or migrates its file, and reads the days that are not sealed into memory.
 * Throws StoreError: `in-use` when another process has it, `not-ours` and `newer` for files it must not touch,
 * `cannot-open`, `full`, `read-only` as the disk will have it. A damaged file is no error: see `Store.start`.
 */
export function openStore(options: OpenOptions): Store {
  const owner = options.readOnly === true ? { close: () => {} } : takeOwnership(options.file)
  try {
    const { parts, start } = openOrSetAside(options)
    return storeOf(parts, start, options, () => owner.close())
  } catch (error) {
    owner.close()
    throw error
  }
}
