/** One fault at one site through the whole line, after weeks that were learned once for all faults of the same seed. */
import { FAULTS } from '../../../simulators/fault-table.js'
import type { Fault, Severity } from '../../../simulators/fault.js'
import type { SiteId } from '../../../simulators/plan.js'
import { simulate } from '../../../simulators/simulate.js'
import type { Truth } from '../../../simulators/truth.js'
import { loadConfig } from '../../../src/config/load.js'
import { Line } from '../../../src/daemon/line.js'
import { drive } from '../../../src/daemon/replay.js'
import type { Notice } from '../../../src/model/alarm.js'
import { LIMITS } from '../../../src/model/limits.js'
import type { Arrival } from '../../../src/model/sample.js'
import type { SiteSettings } from '../../../src/model/settings.js'
import { DAY, HOUR, type Ms } from '../../../src/model/time.js'
import { openStore } from '../../../src/record/store.js'
import { type Expectation, expected } from './expectations.js'

export const LEARN_DAYS = 14
const WATCH_DAYS = 3
const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }

export type Outcome = {
  readonly site: SiteId
  readonly expectation: Expectation
  readonly severity: Severity
  readonly seed: number
  /** The moment that counts; null: it never came, so there was nothing to find. */
  readonly from: Ms | null
  readonly toldAfterMs: Ms | null
  readonly inTime: boolean
  readonly wrong: readonly string[]
  readonly notices: readonly Notice[]
  readonly marks: Truth['marks']
  /** Notices in the first day from the first one, all-clears included. */
  readonly messages: number
}

type Learned = { readonly at: Ms; readonly engine: string; readonly judge: string; readonly judgedAt: Ms }

const learnedBefore = new Map<string, Promise<Learned>>()

export function settingsOf(site: SiteId): SiteSettings {
  const loaded = loadConfig(new URL(`../../../config/${site}.yaml`, import.meta.url).pathname)
  const found = loaded.ok ? loaded.settings.sites[0] : undefined
  if (found === undefined) throw new Error(`config/${site}.yaml does not load`)
  return found
}

function arrival(message: { at: Ms; topic: string; payload: string }): Arrival {
  return { at: message.at, topic: message.topic, payload: Buffer.from(message.payload), retain: false }
}

function* toArrivals(
  messages: Iterable<{ at: Ms; topic: string; payload: string }>,
  from: Ms,
  to: Ms,
): Generator<Arrival> {
  for (const message of messages) {
    if (message.at >= to) return
    if (message.at >= from) yield arrival(message)
  }
}

/** The ordinary weeks before the fault, the same for all faults of a seed. */
function learn(site: SiteId, seed: number, startMs: Ms, days: number): Promise<Learned> {
  const key = `${site} ${seed} ${startMs} ${days}`
  const known = learnedBefore.get(key)
  if (known !== undefined) return known
  const learning = (async () => {
    const settings = settingsOf(site)
    const store = openStore({ file: ':memory:', now: 0 })
    const line = new Line({ sites: [settings], store, log: LOG, judging: true, link: () => null })
    const at = startMs + days * DAY
    const { messages } = simulate({ site, seed, startMs, days: days + 0.1 })
    await drive(line, toArrivals(messages, 0, at + LIMITS.latenessMs + 2 * LIMITS.tickMs))
    const snapshot = store.snapshots.latest(site, at + 1)
    const [siteLine] = line.sites
    if (snapshot === null || snapshot.at !== at || siteLine === undefined)
      throw new Error('no snapshot at the end of learning')
    const learned = { at, engine: snapshot.text, judge: JSON.stringify(siteLine.judgeState), judgedAt: at }
    store.close()
    return learned
  })()
  learnedBefore.set(key, learning)
  return learning
}

/** Runs one case and says what was told of it. */
export async function runCase(
  expectation: Expectation,
  site: SiteId,
  severity: Severity,
  seed: number,
): Promise<Outcome> {
  const startMs = Date.UTC(2026, expectation.month ?? 4, 4, 7)
  const learnDays = expectation.days?.[site].learn ?? LEARN_DAYS
  const learned = await learn(site, seed, startMs, learnDays)
  const settings = expectation.declared === true ? emptyFrom(settingsOf(site), learned.at) : settingsOf(site)
  const faultAt = learned.at + 6 * HOUR
  const fault: Fault = { kind: expectation.kind, severity, startMs: faultAt, endMs: null }
  const days = learnDays + watchDays(expectation, site)
  const away = expectation.empty === true ? [{ fromDay: LEARN_DAYS, toDay: days }] : []
  const simulation = simulate({ site, seed, startMs, days, faults: [fault], away })
  const store = openStore({ file: ':memory:', now: 0 })
  store.snapshots.put(site, learned.at, learned.engine)
  store.judge.save(site, learned.judgedAt, JSON.stringify({ ...JSON.parse(learned.judge), at: learned.judgedAt }))
  const notices: Notice[] = []
  const line = new Line({
    sites: [settings],
    store,
    log: LOG,
    judging: true,
    link: () => null,
    events: { onNotices: (_, said) => notices.push(...said) },
  })
  line.sites[0]?.resume(learned.at)
  await drive(line, toArrivals(simulation.messages, learned.at, Number.POSITIVE_INFINITY))
  store.close()
  return judgeCase({ site, expectation, severity, seed }, notices, simulation.truth, faultAt)
}

function emptyFrom(settings: SiteSettings, at: Ms): SiteSettings {
  return { ...settings, away: { usual: 'home', calendar: [[at, at + 365 * DAY]] } }
}

function watchDays(expectation: Expectation, site: SiteId): number {
  if (expectation.days !== undefined) return expectation.days[site].watch
  return expectation.kind === 'battery-low' ? 9 : WATCH_DAYS
}

type Case = Pick<Outcome, 'site' | 'expectation' | 'severity' | 'seed'>

function judgeCase(which: Case, notices: readonly Notice[], truth: Truth, faultAt: Ms): Outcome {
  const { expectation, severity, site } = which
  const { says, or, within } = expected(expectation, site, severity)
  const nothing = says === null || expectation.nothingOf?.includes(severity) === true
  const during = notices.filter((notice) => notice.at >= faultAt)
  const names = new Set<string>(says === null ? or : [says, ...or])
  const told = during.find((notice) => names.has(notice.alarm.id) && notice.reason !== 'cleared')
  const from = nothing ? null : momentOf(expectation, truth, faultAt, told === undefined ? within : 0)
  const right = new Set<string>(nothing ? expectation.alsoRight : [...names, ...expectation.alsoRight])
  const wrong = during
    .filter((notice) => notice.reason !== 'cleared' && !right.has(notice.alarm.id))
    .map((notice) => `${notice.alarm.key} (${notice.alarm.cause})`)
  const first = during[0]?.at ?? 0
  const toldAfterMs = told === undefined || from === null ? null : told.at - from
  return {
    ...which,
    notices: during,
    marks: truth.marks.filter((mark) => mark.at >= faultAt),
    from,
    toldAfterMs,
    inTime: from === null || (toldAfterMs !== null && toldAfterMs <= within),
    wrong: [...new Set(wrong)],
    messages: during.filter((notice) => notice.at < first + DAY).length,
  }
}

function momentOf(expectation: Expectation, truth: Truth, faultAt: Ms, within: Ms): Ms | null {
  if (expectation.from[0] === 'last-word') {
    const spec = FAULTS[expectation.kind]
    return spec === undefined ? null : faultAt
  }
  const ended =
    truth.marks.find((one) => one.what === 'fault-ended' && one.at > faultAt)?.at ?? Number.POSITIVE_INFINITY
  const mark = truth.marks.find(
    (one) => one.at >= faultAt && (expectation.from as readonly string[]).includes(one.what),
  )
  // A fault that was mended before it could be told was not there to be found.
  return mark === undefined || mark.at + within > ended ? null : mark.at
}
