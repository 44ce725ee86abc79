/** One place, for as many days as asked, through the whole line; what was told of it, and whether it was true. */
import { simulate } from '../../../simulators/simulate.js'
import { Line } from '../../../src/daemon/line.js'
import { drive } from '../../../src/daemon/replay.js'
import { type AlarmId, atLeast, type Notice, type Priority } from '../../../src/model/alarm.js'
import type { Arrival } from '../../../src/model/sample.js'
import { DAY, type Ms } from '../../../src/model/time.js'
import { openStore } from '../../../src/record/store.js'
import { settingsOf } from '../detection/run-case.js'
import type { Place } from './places.js'
import { whyTrue } from './truth-of.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
/** As a daemon does: days of so many samples are packed, and what is older than this is dropped. */
const OPEN_SAMPLES = 1_000_000
const KEEP_DAYS = 45
/** In its first week a place's habits are learned: what is told then is counted apart (contract, section 5). */
export const FIRST_DAYS = 7

export type ToldOf = {
  readonly at: string
  readonly alarm: AlarmId
  readonly subject: string
  readonly priority: Priority
  readonly cause: string
  readonly what: string
  /** Why it was true; null: false. */
  readonly trueBecause: string | null
  readonly firstWeek: boolean
}

export type PlaceYear = {
  readonly place: string
  readonly seed: number
  readonly start: string
  readonly days: number
  readonly samples: number
  readonly fills: number
  readonly seconds: number
  /** Each raise told once; all-clears and reminders belong to it. */
  readonly told: readonly ToldOf[]
}

export async function runPlace(place: Place, seed: number, days: number, clock: () => number): Promise<PlaceYear> {
  const began = clock()
  const startMs = Date.UTC(2026, place.month, 1, 8)
  const settings = place.settings(settingsOf(place.site))
  const store = openStore({ file: ':memory:', now: 0 })
  const notices: Notice[] = []
  const line = new Line({
    sites: [settings],
    store,
    log: LOG,
    judging: true,
    link: () => null,
    events: { onNotices: (_, said) => notices.push(...said) },
  })
  const simulation = simulate({ site: place.site, seed, startMs, days, ...place.life(seed, days, startMs) })
  const arrivals = function* (): Generator<Arrival> {
    for (const { at, topic, payload } of simulation.messages)
      yield { at, topic, payload: Buffer.from(payload), retain: false }
  }
  const winterize = (now: Ms): void => {
    if (place.winterizedMonths === undefined) return
    const winterized = place.winterizedMonths.includes(new Date(now).getUTCMonth())
    if (store.modes.get(place.site).winterized === winterized) return
    store.modes.set(place.site, { winterized })
    line.sites[0]?.reread(now)
  }
  await drive(line, arrivals(), {
    commitMessages: 500,
    onStep: (now) => {
      if (now % DAY !== 0) return
      line.commitKept()
      winterize(now)
      if (store.sizes().openSamples <= OPEN_SAMPLES || !store.sealDue(now)) return
      store.seal(now)
      store.prune(now, KEEP_DAYS)
    },
  })
  const told = notices
    .filter(({ reason }) => reason !== 'cleared' && reason !== 'reminder')
    .map(
      ({ at, alarm, reason }): ToldOf => ({
        at: new Date(at).toISOString(),
        alarm: alarm.id,
        subject: alarm.subject,
        priority: alarm.priority,
        cause: alarm.cause,
        what: `${alarm.words.title}: ${alarm.words.what}`,
        trueBecause: whyTrue({ at, alarm, reason }, simulation.truth),
        firstWeek: at < startMs + FIRST_DAYS * DAY,
      }),
    )
  const fills = simulation.truth.runs.length
  const { samples } = line.counts
  store.close()
  return {
    place: place.id,
    seed,
    start: new Date(startMs).toISOString(),
    days,
    samples,
    fills,
    seconds: clock() - began,
    told,
  }
}

/** What counts against the budget: false, after the first week, of this priority or above. */
export function falseTold({ told }: PlaceYear, least: Priority): readonly ToldOf[] {
  return told.filter((one) => one.trueBecause === null && !one.firstWeek && atLeast(one.priority, least))
}
