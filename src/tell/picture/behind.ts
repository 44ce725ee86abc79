/** Which signal shows best what an alarm is about: drawn into the mail that tells of it. */
import type { AlarmId, QuantityKind } from '../../model/alarm.js'
import type { RoleId, SignalKey } from '../../model/roles.js'
import type { SiteSettings } from '../../model/settings.js'

/** By worth: the first that the place measures is drawn. Alarms about boards and the program itself have none. */
const BEHIND: Readonly<Record<AlarmId, readonly RoleId[]>> = {
  'dry-well': ['pump-current', 'tank-level'],
  'pump-stalled': ['pump-current'],
  'pump-no-start': ['pump-current', 'battery-voltage'],
  'no-rise': ['tank-level', 'pump-current'],
  'fill-long': ['tank-level', 'pump-current'],
  overfill: ['tank-level'],
  leak: ['tank-level'],
  'tank-low': ['tank-level'],
  'battery-low': ['battery-voltage'],
  'battery-sag': ['battery-voltage'],
  'battery-cold-charge': ['battery-temperature', 'battery-current'],
  'battery-not-full': ['battery-voltage'],
  'array-dark': ['panel-current', 'battery-voltage'],
  'freeze-risk': ['line-temperature', 'air-temperature'],
  freezing: ['line-temperature', 'air-temperature'],
  'board-silent': [],
  'site-silent': [],
  'sensor-suspect': [],
  'clock-suspect': [],
  'yield-falling': ['pump-current'],
  'energy-rising': ['pump-current'],
  'house-pump-cycling': ['house-pressure', 'house-pump-current'],
  'stale-water': ['tank-level'],
  'store-failing': [],
  'telling-failing': [],
}

type Shown = { readonly words: string; readonly kind: QuantityKind }

const SHOWN: Readonly<Partial<Record<RoleId, Shown>>> = {
  'tank-level': { words: 'Water level in the tank', kind: 'level' },
  'pump-current': { words: 'Pump current', kind: 'current' },
  'battery-voltage': { words: 'Battery voltage', kind: 'voltage' },
  'battery-current': { words: 'Battery current', kind: 'current' },
  'battery-temperature': { words: 'Battery temperature', kind: 'temperature' },
  'panel-current': { words: 'Panel current', kind: 'current' },
  'line-temperature': { words: 'Temperature of the line', kind: 'temperature' },
  'air-temperature': { words: 'Air temperature', kind: 'temperature' },
  'house-pressure': { words: 'Water pressure of the house', kind: 'pressure' },
  'house-pump-current': { words: 'Current of the pressure pump', kind: 'current' },
}

export type Behind = Shown & { readonly key: SignalKey }

/** @param about the alarm's key, `id:subject`; a subject that names a signal of the right role is preferred */
export function signalBehind(site: SiteSettings, about: string): Behind | null {
  const colon = about.indexOf(':')
  const id = about.slice(0, colon < 0 ? about.length : colon)
  const subject = colon < 0 ? '' : about.slice(colon + 1)
  const roles = Object.hasOwn(BEHIND, id) ? BEHIND[id as AlarmId] : []
  const signals = site.boards.flatMap((board) => board.signals)
  for (const role of roles) {
    const shown = SHOWN[role]
    const own = signals.filter((signal) => signal.role === role)
    const found = own.find(({ key }) => key === subject || key === `${role}.${subject}`) ?? own[0]
    if (shown !== undefined && found !== undefined) return { ...shown, key: found.key }
  }
  return null
}
