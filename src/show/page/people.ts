/** Figures and times of one site as its people read them. */
import type { QuantityKind } from '../../model/alarm.js'
import type { NowBody } from '../bodies/now.js'
import { duration, NOT_KNOWN, quantity } from '../words/quantity.js'
import { moment } from '../words/when.js'

export { duration, NOT_KNOWN }

export type People = {
  readonly say: (kind: QuantityKind, value: number | null) => string
  /** A figure with its doubt (two standard uncertainties): "314 gal ± 3". */
  readonly sure: (kind: 'level' | 'volume' | 'flow', value: number | null, sd: number | null) => string
  /** Time of day at the site, with the day where it is another one. */
  readonly when: (time: string | null) => string
  readonly ago: (time: string | null) => string
}

/** Binds the site's units, zone and the daemon's clock, carried on by what has passed since it was asked. */
export function peopleOf(now: NowBody, elapsedMs = 0): People {
  const { units, timezone } = now.site
  const at = Date.parse(now.at) + elapsedMs
  const say: People['say'] = (kind, value) => quantity(kind, value, units)
  return {
    say,
    sure(kind, value, sd) {
      if (value === null || sd === null) return say(kind, value)
      return `${say(kind, value)} ± ${quantity(kind, 2 * sd, units).split('\u00a0')[0] ?? ''}`
    },
    when: (time) => (time === null ? NOT_KNOWN : moment(Date.parse(time), at, timezone)),
    ago: (time) => (time === null ? 'never' : `${duration((at - Date.parse(time)) / 1000)} ago`),
  }
}

const ROLE_WORDS: Readonly<Record<string, string>> = {
  'tank-level': 'level of the tank',
  'tank-probe-low': 'low probe',
  'tank-probe-high': 'high probe',
  'tank-probe-full': 'overflow probe',
}

/** A signal as people call it: "pump current", "line temperature (outlet)". */
export function signalWords(key: string): string {
  const [role = key, label] = key.split('.')
  const words = ROLE_WORDS[role] ?? role.replaceAll('-', ' ')
  return label === undefined ? words : `${words} (${label})`
}
