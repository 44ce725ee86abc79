/** The picture of a mail: the signal behind an alarm over the last 24 h, with its words. */
import { formatLocalClock, formatQuantity } from '../../model/format.js'
import { LIMITS } from '../../model/limits.js'
import type { Message } from '../../model/message.js'
import type { SignalKey } from '../../model/roles.js'
import type { SiteSettings } from '../../model/settings.js'
import { DAY, HOUR, type Ms } from '../../model/time.js'
import { nextLocalMinute } from '../local-time.js'
import { signalBehind } from './behind.js'
import { type Column, drawPng, PICTURE } from './draw.js'

export type Picture = {
  readonly png: Buffer
  /** What it shows, for those who do not see it too. One line of plain text. */
  readonly words: string
}

export type ChartColumn = Column & { readonly mean: number }

/** What is stored of a signal, in at most so many columns; stretches without samples are left out. */
export type Chart = (site: string, key: SignalKey, from: Ms, to: Ms, columns: number) => readonly ChartColumn[]

/** The picture of a message at this moment, or null where it has none. */
export type Pictures = (message: Message) => Picture | null

export type PicturesOptions = {
  readonly sites: readonly SiteSettings[]
  readonly chart: Chart
  readonly now: () => Ms
}

const SPAN_MS = DAY
/** Two pixels a column. */
const COLUMNS = PICTURE.width / 2

export function createPictures({ sites, chart, now }: PicturesOptions): Pictures {
  const byId = new Map(sites.map((site) => [site.id, site]))
  return (message) => {
    const site = byId.get(message.site)
    if (site === undefined || (message.kind !== 'alarm' && message.kind !== 'all-clear')) return null
    const behind = signalBehind(site, message.about)
    if (behind === null) return null
    const to = now()
    const from = to - SPAN_MS
    const columns = chart(site.id, behind.key, from, to, COLUMNS)
    const last = columns.at(-1)
    if (last === undefined || columns.length < 2) return null
    const began = message.kind === 'alarm' && message.at > from && message.at < to ? message.at : null
    const png = drawPng({ columns, from, to, marks: noonsAndMidnights(from, to, site.timezone), began })
    if (png.length > LIMITS.mailPictureBytesMax) return null
    const shown = (value: number) => formatQuantity(behind.kind, value, site.units)
    const low = columns.reduce((least, { min }) => Math.min(least, min), Number.POSITIVE_INFINITY)
    const high = columns.reduce((most, { max }) => Math.max(most, max), Number.NEGATIVE_INFINITY)
    const lines = `Thin upright lines: midnight and noon${began === null ? '' : '; the thick one: when this began'}.`
    return {
      png,
      words: `${behind.words}, the 24 h up to ${formatLocalClock(to, site.timezone)}: lowest ${shown(low)}, highest ${shown(high)}, last ${shown(last.mean)}. ${lines}`,
    }
  }
}

function noonsAndMidnights(from: Ms, to: Ms, timezone: string): readonly Ms[] {
  const marks: Ms[] = []
  for (const minute of [0, 720]) {
    for (let at = nextLocalMinute(from, minute, timezone); at < to; at = nextLocalMinute(at + HOUR, minute, timezone)) {
      marks.push(at)
    }
  }
  return marks
}
