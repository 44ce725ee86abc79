/** From `tell` and `alarms` to settings: names resolved, secrets read, numbers in SI. */
import { ALARM_IDS, type AlarmId } from '../model/alarm.js'
import type { AlarmSettings, TellSettings, WaySettings } from '../model/settings.js'
import type { FileReader } from './files.js'
import { error, type Issue, type Path, shown, warning } from './finding.js'
import { meant } from './nearest.js'
import { readQuantity } from './quantity.js'
import type { SiteSections } from './schema.js'
import { DIMENSIONS, type Dimension } from './units.js'

type TellInput = NonNullable<SiteSections['tell']>
type WayInput = TellInput['ways'][string]
type AlarmsInput = NonNullable<SiteSections['alarms']>

/** Nobody is told anything: what holds where `tell` is left out. */
export const TELL_NOBODY: TellSettings = { people: [], ways: [], escalate: null, digest: null, selfTest: 'monthly' }

export function buildTell(tell: TellInput, files: FileReader): { tell: TellSettings; issues: Issue[] } {
  const ways = Object.entries(tell.ways).map(([id, way]) => buildWay(id, way, files))
  const people = tell.people.map((person) => ({
    name: person.name,
    ways: person.ways,
    quiet: person.quiet ?? null,
    least: person.least,
  }))
  return {
    tell: {
      people,
      ways,
      escalate: tell.escalate === undefined ? null : { afterS: tell.escalate.after, to: tell.escalate.to },
      digest: tell.digest === undefined ? null : { atMinute: tell.digest.at, to: tell.digest.to },
      selfTest: tell.self_test,
    },
    issues: nameIssues(tell),
  }
}

const SMTPS_PORT = 465
const SUBMISSION_PORT = 587

function buildWay(id: string, way: WayInput, files: FileReader): WaySettings {
  const path = ['tell', 'ways', id]
  switch (way.kind) {
    case 'email': {
      const { smtp } = way
      return {
        kind: 'email',
        id,
        host: smtp.host,
        port: smtp.port ?? (smtp.secure ? SMTPS_PORT : SUBMISSION_PORT),
        secure: smtp.secure,
        username: smtp.username ?? null,
        password:
          smtp.password_file === undefined
            ? null
            : files.secret(smtp.password_file, [...path, 'smtp', 'password_file']),
        from: way.from,
        to: way.to,
        short: way.short,
      }
    }
    case 'webhook':
      return { kind: 'webhook', id, url: way.url, secret: files.secret(way.secret_file, [...path, 'secret_file']) }
    case 'mqtt':
      return { kind: 'mqtt', id, topic: way.topic }
    case 'web-push':
      return { kind: 'web-push', id }
  }
}

function nameIssues(tell: TellInput): Issue[] {
  const issues: Issue[] = []
  const ways = Object.keys(tell.ways)
  const names = tell.people.map((person) => person.name)
  const refer = (word: string, known: readonly string[], what: string, path: Path): void => {
    if (known.includes(word)) return
    const expected = known.length === 0 ? `a name under ${what}, which is empty` : `one of ${known.join(', ')}`
    issues.push(error(path, `names nothing under ${what}`, { found: shown(word), expected, hint: meant(word, known) }))
  }
  for (const [index, person] of tell.people.entries()) {
    const path = ['tell', 'people', index]
    if (names.indexOf(person.name) !== index) {
      issues.push(error([...path, 'name'], 'is there twice', { found: shown(person.name), expected: 'each name once' }))
    }
    for (const [at, way] of person.ways.entries()) refer(way, ways, 'tell.ways', [...path, 'ways', at])
    if (person.ways.length === 0) {
      issues.push(
        warning(path, 'has no way to be told', {
          found: shown(person.name),
          expected: 'ways: [a name under tell.ways]',
        }),
      )
    }
  }
  const used = new Set(tell.people.flatMap((person) => person.ways))
  for (const way of ways) {
    if (!used.has(way)) issues.push(warning(['tell', 'ways', way], 'is used by nobody', { at: 'key' }))
  }
  for (const part of ['escalate', 'digest'] as const) {
    for (const [at, name] of (tell[part]?.to ?? []).entries())
      refer(name, names, 'tell.people', ['tell', part, 'to', at])
  }
  return issues
}

/** What the alarms of this program list as their own settings: name → what it measures (`number`: a plain number). */
export type AlarmNumbers = Readonly<Partial<Record<AlarmId, Readonly<Record<string, Dimension | 'number'>>>>>

export type AlarmMap = Partial<Record<AlarmId, AlarmSettings>>

export function buildAlarms(alarms: AlarmsInput, lists: AlarmNumbers | null): { alarms: AlarmMap; issues: Issue[] } {
  const issues: Issue[] = []
  const built: AlarmMap = {}
  for (const id of ALARM_IDS) {
    const given = alarms[id]
    if (given === undefined) continue
    const { enabled, priority, on_delay: onDelay, off_delay: offDelay, ...rest } = given
    const list = lists === null ? null : (lists[id] ?? {})
    built[id] = {
      enabled: enabled ?? null,
      priority: priority ?? null,
      onDelayS: onDelay ?? null,
      offDelayS: offDelay ?? null,
      numbers: readNumbers(rest, list, ['alarms', id], issues),
    }
  }
  return { alarms: built, issues }
}

type NumberList = Readonly<Record<string, Dimension | 'number'>> | null

const COMMON_SETTINGS = ['enabled', 'priority', 'on_delay', 'off_delay']

function readNumbers(
  given: Record<string, unknown>,
  list: NumberList,
  path: Path,
  issues: Issue[],
): Record<string, number> {
  const numbers: Record<string, number> = {}
  for (const [name, value] of Object.entries(given)) {
    const here = [...path, name]
    const kind = list === null ? 'any' : Object.hasOwn(list, name) ? list[name] : undefined
    if (kind === undefined) {
      const known = [...COMMON_SETTINGS, ...Object.keys(list ?? {})]
      const words = { found: JSON.stringify(name), expected: `one of ${known.join(', ')}`, hint: meant(name, known) }
      issues.push(error(here, 'is no setting of this alarm', { ...words, at: 'key' }))
      continue
    }
    const read = readNumber(value, kind)
    if (typeof read === 'number') numbers[name] = read
    else issues.push(error(here, read.message, { found: shown(value), expected: read.expected }))
  }
  return numbers
}

type Unread = { readonly message: string; readonly expected: string }

function readNumber(value: unknown, kind: Dimension | 'number' | 'any'): number | Unread {
  if (kind === 'number' || (kind === 'any' && typeof value === 'number')) {
    if (typeof value === 'number' && Number.isFinite(value)) return value
    return { message: 'is no number', expected: 'a number without a unit' }
  }
  const candidates = kind === 'any' ? DIMENSIONS : [kind]
  for (const dimension of candidates) {
    const read = readQuantity(value, dimension)
    if (read.ok) return read.value
    if (kind !== 'any') return read
  }
  return { message: 'is no quantity', expected: 'a number with its unit, such as "60 s" or "5 %"' }
}
