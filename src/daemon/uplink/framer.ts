/**
 * Makes frames of what has been committed since the last ones, and keeps them until town has taken them. Reads the
 * sample log by its row numbers, so neither a crash nor a stop leaves anything out.
 */
import { LIMITS } from '../../model/limits.js'
import { type RoleId, roleOfKey, ROLES } from '../../model/roles.js'
import { DAY, MINUTE, type Ms } from '../../model/time.js'
import type { Store } from '../../record/store.js'
import type { Line } from '../line.js'
import { type Frame, type FrameColumn, packFrame } from './frame.js'

/** `full`: everything. `thinned`: signals that fills do not rest on come only as they change. */
export type Economy = 'full' | 'thinned'

export type Framer = {
  /** Makes frames of what is new; returns how many, and how many of the oldest had to go. */
  make(now: Ms, everyS: number, economy: Economy): { readonly made: number; readonly dropped: number }
}

type Named = { readonly site: string; readonly key: string }
type Column = { readonly named: Named; readonly day: number; readonly points: (readonly [Ms, number])[] }

/** What fills, their volume and their energy are worked out from: never thinned, so that town finds the same fills. */
const EXACT: ReadonlySet<RoleId> = new Set<RoleId>([
  'tank-level',
  'tank-probe-low',
  'tank-probe-high',
  'tank-probe-full',
  'pump-current',
  'pump-voltage',
  'pump-flow',
  'pump-volume',
  'battery-voltage',
  'occupied',
])
const THIN_AT_LEAST_MS = 10 * MINUTE
const ROWS = 500
/** Leaves room for the topic within what a broker of ours takes as one payload. */
const FRAME_BYTES_MAX = LIMITS.payloadBytesMax - 1_024

export function createFramer(store: Store, line: Line): Framer {
  const names = new Map<number, Named>()
  for (const { site, series, engine } of line.sites) {
    for (const [index, id] of series.entries()) {
      const key = engine.signals[index]
      if (key !== undefined) names.set(id, { site: site.id, key })
    }
  }
  const thin = createThinner()

  function make(now: Ms, everyS: number, economy: Economy): { made: number; dropped: number } {
    let made = 0
    let dropped = 0
    let seq = store.uplink.cursor()
    // A place that begins to send up sends what comes from now on; town has its past by an import.
    if (seq === null) {
      store.uplink.add([], store.logEnd(), LIMITS.uplinkFramesMax)
      return { made, dropped }
    }
    for (;;) {
      const columns = new Map<string, Column>()
      let samples = 0
      const last = store.logSince(seq, ROWS, (series, t, value) => {
        const named = names.get(series)
        if (named === undefined || (economy === 'thinned' && !thin(series, named.key, t, value))) return
        samples += 1
        put(columns, named, series, t, value)
      })
      if (last === seq) break
      const frames = framesOf([...columns.values()], now, everyS, samples)
      dropped += store.uplink.add(frames, last, LIMITS.uplinkFramesMax)
      made += frames.length
      seq = last
    }
    return { made, dropped }
  }

  return { make }
}

function put(columns: Map<string, Column>, named: Named, series: number, t: Ms, value: number): void {
  const day = Math.floor(t / DAY)
  const place = `${series} ${day}`
  const column = columns.get(place)
  if (column === undefined) columns.set(place, { named, day, points: [[t, value]] })
  else column.points.push([t, value])
}

/** Packed frames of each site; one that is too large for a message is halved until it is not. */
function framesOf(columns: readonly Column[], at: Ms, everyS: number, samples: number) {
  const sites = [...new Set(columns.map(({ named }) => named.site))]
  return sites.flatMap((site) => {
    const mine = columns.filter(({ named }) => named.site === site).map(ascending)
    return split({ site, at, everyS, columns: mine }, samples)
  })
}

function ascending({ named, day, points }: Column): FrameColumn {
  const sorted = [...points].sort((a, b) => a[0] - b[0])
  return { key: named.key, day, t: Float64Array.from(sorted, ([t]) => t), v: Float64Array.from(sorted, ([, v]) => v) }
}

function split(frame: Frame, samples: number): { site: string; at: Ms; data: Buffer }[] {
  const { site, at, columns } = frame
  if (samples <= LIMITS.frameSamplesMax && columns.length <= LIMITS.frameColumnsMax) {
    const data = packFrame(frame)
    if (data.length <= FRAME_BYTES_MAX) return [{ site, at, data }]
  }
  const half = Math.ceil(samples / 2)
  const halves = columns.map(({ key, day, t, v }) => {
    const middle = Math.ceil(t.length / 2)
    return [
      { key, day, t: t.slice(0, middle), v: v.slice(0, middle) },
      { key, day, t: t.slice(middle), v: v.slice(middle) },
    ] as const
  })
  const few = columns.length > LIMITS.frameColumnsMax || columns.every(({ t }) => t.length === 1)
  const [one, two] = few
    ? [columns.slice(0, Math.ceil(columns.length / 2)), columns.slice(Math.ceil(columns.length / 2))]
    : [halves.map(([first]) => first), halves.flatMap(([, second]) => (second.t.length > 0 ? [second] : []))]
  return [...split({ ...frame, columns: one }, half), ...split({ ...frame, columns: two }, samples - half)]
}

/** Whether a reading of a signal that fills do not rest on says something new: beyond its sensor's own doubt, or after a while. */
function createThinner(): (series: number, key: string, t: Ms, value: number) => boolean {
  const lastSent = new Map<number, readonly [Ms, number]>()
  return (series, key, t, value) => {
    const role = roleOfKey(key)
    if (role === null || EXACT.has(role)) return true
    const last = lastSent.get(series)
    const { sd, gainSd } = ROLES[role]
    const quiet =
      last !== undefined &&
      t >= last[0] &&
      t - last[0] < THIN_AT_LEAST_MS &&
      (Object.is(value, last[1]) || Math.abs(value - last[1]) <= sd + gainSd * Math.abs(last[1]))
    if (!quiet) lastSent.set(series, [t, value])
    return !quiet
  }
}
