/** A place whose ordinary days were learned once, and what is told when its days go on in different ways. */
import { parseFault } from '../../../simulators/fault.js'
import type { Garden, GuestSpell, Spell } from '../../../simulators/household.js'
import type { LevelSensor } from '../../../simulators/sensors.js'
import { simulate } from '../../../simulators/simulate.js'
import { Line } from '../../../src/daemon/line.js'
import { drive } from '../../../src/daemon/replay.js'
import type { Notice } from '../../../src/model/alarm.js'
import { LIMITS } from '../../../src/model/limits.js'
import type { Arrival } from '../../../src/model/sample.js'
import type { SiteSettings } from '../../../src/model/settings.js'
import { DAY, HOUR, type Ms } from '../../../src/model/time.js'
import { openStore } from '../../../src/record/store.js'
import { settingsOf } from '../detection/run-case.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
/** Midnight at the site. */
const START = Date.UTC(2026, 4, 4, 7)
export const LEARN_DAYS = 10

export type Kind = { readonly level: LevelSensor; readonly seed: number; readonly garden?: Garden }
export type Place = Kind & { readonly at: Ms; readonly engine: string; readonly judge: string }

export type Days = {
  readonly days: number
  /** Hours after the ordinary days at which a fault begins, as in `leak:mild`. */
  readonly fault?: { readonly words: string; readonly afterH: number; readonly lastsH?: number }
  /** Nobody is there, and the calendar says so. */
  readonly empty?: boolean
  readonly guests?: readonly GuestSpell[]
}

export type Told = { readonly hours: number; readonly notice: Notice }

export async function learn(kind: Kind): Promise<Place> {
  const settings = settingsOf('juniper')
  const at = START + LEARN_DAYS * DAY
  const store = openStore({ file: ':memory:', now: 0 })
  const line = lineOf(settings, store, [])
  await drive(line, arrivals(kind, { days: 0.1 }, 0, at + LIMITS.latenessMs + 2 * LIMITS.tickMs))
  const snapshot = store.snapshots.latest('juniper', at + 1)
  const [site] = line.sites
  if (snapshot?.at !== at || site === undefined) throw new Error('no snapshot at the end of the ordinary days')
  const place = { ...kind, at, engine: snapshot.text, judge: JSON.stringify({ ...site.judgeState, at }) }
  store.close()
  return place
}

/** Everything that was told, with the hours since the fault began (or since the days began). */
export async function live(place: Place, days: Days): Promise<readonly Told[]> {
  const plain = settingsOf('juniper')
  const calendar = [[place.at, place.at + 100 * DAY]] as const
  const settings = days.empty === true ? { ...plain, away: { usual: 'home', calendar } as const } : plain
  const store = openStore({ file: ':memory:', now: 0 })
  store.snapshots.put('juniper', place.at, place.engine)
  store.judge.save('juniper', place.at, place.judge)
  const notices: Notice[] = []
  const line = lineOf(settings, store, notices)
  line.sites[0]?.resume(place.at)
  await drive(line, arrivals(place, days, place.at, Number.POSITIVE_INFINITY))
  store.close()
  const from = place.at + (days.fault?.afterH ?? 0) * HOUR
  return notices.map((notice) => ({ hours: (notice.at - from) / HOUR, notice }))
}

function lineOf(settings: SiteSettings, store: ReturnType<typeof openStore>, notices: Notice[]): Line {
  return new Line({
    sites: [settings],
    store,
    log: LOG,
    judging: true,
    link: () => null,
    events: { onNotices: (_, said) => notices.push(...said) },
  })
}

function* arrivals(kind: Kind, days: Days, from: Ms, to: Ms): Generator<Arrival> {
  const { fault, guests = [] } = days
  const startH = 24 * LEARN_DAYS + (fault?.afterH ?? 0)
  const lasts = fault?.lastsH === undefined ? '' : `+${fault.lastsH}h`
  const away: readonly Spell[] = days.empty === true ? [{ fromDay: LEARN_DAYS, toDay: 1_000 }] : []
  const { messages } = simulate({
    site: 'juniper',
    seed: kind.seed,
    startMs: START,
    days: LEARN_DAYS + days.days,
    levelSensor: kind.level,
    faults: fault === undefined ? [] : [parseFault(`${fault.words}@${startH}h${lasts}`, START)],
    away,
    guests,
    ...(kind.garden === undefined ? {} : { garden: kind.garden }),
  })
  for (const { at, topic, payload } of messages) {
    if (at >= to) return
    if (at >= from) yield { at, topic, payload: Buffer.from(payload), retain: false }
  }
}
