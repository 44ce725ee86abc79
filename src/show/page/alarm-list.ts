/** Every alarm with what it goes by, and the alarms of the last month. Fetched when it is opened. */
import { formatQuantity } from '../../model/format.js'
import type { UnitSystem } from '../../model/settings.js'
import type { AlarmSettingsBody } from '../bodies/alarm-settings.js'
import type { AlarmBody } from '../bodies/alarms.js'
import { el, table } from './dom.js'
import { duration, type People } from './people.js'
import { trySetting } from './try-setting.js'

type One = AlarmSettingsBody['alarms'][number]
type Setting = One['settings'][number]

/** A setting's figure in words, in the site's units. */
export function settingWords(kind: Setting['kind'], value: number, units: UnitSystem): string {
  switch (kind) {
    case 'duration':
      return duration(value)
    case 'ratio':
      return String(Number(value.toFixed(3)))
    case 'count':
      return String(value)
    default:
      return formatQuantity(kind, value, units).replace(' ', '\u00a0')
  }
}

function settingsTable(alarm: One, units: UnitSystem): HTMLElement {
  const rows = alarm.settings.map(({ name, kind, value, default: usual, configured, meaning }) => [
    el('code', {}, name),
    configured ? el('strong', {}, settingWords(kind, value, units)) : settingWords(kind, value, units),
    configured ? settingWords(kind, usual, units) : 'the same',
    meaning,
  ])
  return table(`Settings of ${alarm.id}`, ['Setting', 'Now', 'Unless set', 'Meaning'], rows)
}

function alarmPart(alarm: One, units: UnitSystem, people: People, owner: boolean): HTMLElement {
  const changed = alarm.settings.some(({ configured }) => configured) || alarm.priority !== alarm.priority_default
  const state = alarm.enabled ? `${alarm.priority} priority${changed ? ', set by you' : ''}` : 'switched off'
  return el(
    'details',
    { 'data-id': alarm.id },
    el('summary', {}, el('strong', {}, alarm.id), ` ${state}`),
    el('p', {}, `Holds when ${alarm.meaning.charAt(0).toLowerCase()}${alarm.meaning.slice(1)}`),
    el('p', { class: 'quiet' }, `Needs: ${alarm.needs}`),
    settingsTable(alarm, units),
    owner ? trySetting(alarm, units, people) : null,
  )
}

function pastTable(past: readonly AlarmBody[], people: People): HTMLElement {
  if (past.length === 0) return el('p', {}, 'No alarm has come and gone in the last 30 days.')
  const lasted = (one: AlarmBody): string =>
    one.cleared === null ? 'not over' : duration((Date.parse(one.cleared) - Date.parse(one.raised)) / 1000)
  const rows = past.toReversed().map((one) => [people.when(one.raised), one.title, one.priority, lasted(one)])
  return table('Alarms of the last 30 days, newest first', ['Raised', 'What', 'Priority', 'Lasted'], rows)
}

export function alarmList(
  body: AlarmSettingsBody,
  past: readonly AlarmBody[],
  units: UnitSystem,
  people: People,
  owner: boolean,
): HTMLElement[] {
  const words =
    'Each may be changed in the configuration under "alarms:", by these names. What a change would have said over the last month can be tried beneath each; over all your history: sightglass backtest --config FILE --with CHANGED-FILE.'
  return [
    pastTable(past, people),
    el('p', { class: 'quiet' }, words),
    el('div', { class: 'signals' }, ...body.alarms.map((alarm) => alarmPart(alarm, units, people, owner))),
  ]
}
