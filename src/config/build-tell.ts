/** From `tell` and `alarms` to settings: names resolved, secrets read. */
import { ALARM_IDS, type AlarmId } from '../model/alarm.js'
import { ALARM_SPECS } from '../model/alarm-settings.js'
import type { AlarmSettings, TellSettings, WaySettings } from '../model/settings.js'
import type { FileReader } from './files.js'
import { error, type Issue, type Path, shown, warning } from './finding.js'
import { meant } from './nearest.js'
import type { SiteSections } from './schema.js'

type TellInput = NonNullable<SiteSections['tell']>
type WayInput = TellInput['ways'][string]
type AlarmsInput = NonNullable<SiteSections['alarms']>

/** Nobody is told anything: what holds where `tell` is left out. */
export const TELL_NOBODY: TellSettings = {
  people: [],
  ways: [],
  escalate: null,
  repeat: { afterS: 3_600, everyS: 86_400, most: 7 },
  digest: null,
  report: { monthly: [], weekly: [] },
  selfTest: 'monthly',
}

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
      repeat: { afterS: tell.repeat.after, everyS: tell.repeat.every, most: tell.repeat.most },
      digest: tell.digest === undefined ? null : { atMinute: tell.digest.at, to: tell.digest.to },
      report: tell.report,
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
      return { kind: 'web-push', id, contact: `mailto:${way.contact}` }
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
  for (const part of ['monthly', 'weekly'] as const) {
    for (const [at, name] of tell.report[part].entries())
      refer(name, names, 'tell.people', ['tell', 'report', part, at])
  }
  return issues
}

export type AlarmMap = Partial<Record<AlarmId, AlarmSettings>>

/** What was set of each alarm. */
export function buildAlarms(alarms: AlarmsInput): AlarmMap {
  const built: AlarmMap = {}
  for (const id of ALARM_IDS) {
    const given = alarms[id]
    if (given === undefined) continue
    const numbers = Object.keys(ALARM_SPECS[id].numbers).flatMap((name): [string, number][] => {
      const value: unknown = Reflect.get(given, name)
      return typeof value === 'number' ? [[name, value]] : []
    })
    built[id] = {
      enabled: given.enabled ?? null,
      priority: given.priority ?? null,
      onDelayS: given.on_delay ?? null,
      offDelayS: given.off_delay ?? null,
      numbers: Object.fromEntries(numbers),
    }
  }
  return built
}
