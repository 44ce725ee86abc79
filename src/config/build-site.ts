/** From the sections of one site to its settings. */
import type {
  LineSettings,
  SiteSettings,
  TankSettings,
  TankShape,
  TellSettings,
  UpkeepSettings,
} from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { buildBoards } from './build-boards.js'
import { buildAlarms } from './build-tell.js'
import { error, type Issue, shown, warning } from './finding.js'
import { meant } from './nearest.js'
import type { SiteSections } from './schema.js'
import { isSignalKey } from './schema-boards.js'
import { tankHeightM } from './tank-volume.js'
import { absence } from './zone.js'

/** As much of a site as could be read: the checks look at what is there. `null` members were not given. */
export type SiteDraft = { -readonly [Name in keyof SiteSettings]?: SiteSettings[Name] }

export type BuiltSite = { readonly draft: SiteDraft; readonly issues: readonly Issue[] }

/** Builds every part whose section could be read; a section with a fault in it leaves its part out. */
export function buildSite(sections: SiteSections, tell: TellSettings | undefined): BuiltSite {
  const issues: Issue[] = []
  const draft: SiteDraft = {}
  buildPlace(draft, sections)
  if (sections.boards !== undefined) {
    const built = buildBoards(sections.boards, sections.site?.id ?? null)
    draft.boards = built.boards
    issues.push(...built.issues)
  }
  if ('tank' in sections) draft.tank = sections.tank === undefined ? null : buildTank(sections.tank, issues)
  if (sections.well !== undefined) {
    draft.well = { liftM: sections.well.lift ?? null, restAfterDryS: sections.well.rest_after_dry }
  }
  buildPower(draft, sections)
  if (sections.lines !== undefined) draft.lines = buildLines(sections.lines, draft, issues)
  buildHabits(draft, sections, issues)
  if (sections.upkeep !== undefined) draft.upkeep = buildUpkeep(sections.upkeep, issues)
  if (sections.alarms !== undefined) draft.alarms = buildAlarms(sections.alarms)
  if (tell !== undefined) draft.tell = tell
  return { draft, issues }
}

function buildPlace(draft: SiteDraft, { site, units }: SiteSections): void {
  if (units !== undefined) draft.units = units
  if (site === undefined) return
  draft.id = site.id
  draft.name = site.name === '' ? site.id : site.name
  draft.timezone = site.timezone
  draft.latitudeDeg = site.latitude ?? null
  draft.longitudeDeg = site.longitude ?? null
  draft.elevationM = site.elevation
}

function buildPower(draft: SiteDraft, sections: SiteSections): void {
  const { pump, battery, array } = sections
  if (pump !== undefined) {
    draft.pump = {
      nominalVoltageV: pump.nominal_voltage ?? battery?.nominal_voltage ?? null,
      runningCurrentA: pump.running_current ?? null,
      longestFillS: pump.longest_fill,
    }
  }
  if ('battery' in sections) draft.battery = battery === undefined ? null : buildBattery(battery)
  if ('array' in sections) draft.array = array === undefined ? null : buildArray(array)
}

function buildBattery(battery: NonNullable<SiteSections['battery']>): SiteSettings['battery'] {
  return {
    chemistry: battery.chemistry,
    nominalVoltageV: battery.nominal_voltage,
    capacityAh: battery.capacity ?? null,
  }
}

function buildArray(array: NonNullable<SiteSections['array']>): SiteSettings['array'] {
  return { ratedW: array.rated, tiltDeg: array.tilt ?? null, azimuthDeg: array.azimuth ?? null }
}

type TankInput = NonNullable<SiteSections['tank']>

function buildTank(tank: TankInput, issues: Issue[]): TankSettings | null {
  const shape = buildShape(tank.shape, issues)
  if (shape === null) return null
  return {
    shape,
    lowMarkM: tank.low_mark,
    highMarkM: tank.high_mark,
    fullM: tank.full ?? tankHeightM(shape),
    reserveL: tank.reserve ?? null,
  }
}

function buildShape(shape: TankInput['shape'], issues: Issue[]): TankShape | null {
  const upright = shape['upright-cylinder']
  const lying = shape['lying-cylinder']
  if (shape.box !== undefined) {
    const { length, width, height } = shape.box
    return { kind: 'box', lengthM: length, widthM: width, heightM: height }
  }
  if (upright !== undefined) return { kind: 'upright-cylinder', diameterM: upright.diameter, heightM: upright.height }
  if (lying !== undefined) return { kind: 'lying-cylinder', diameterM: lying.diameter, lengthM: lying.length }
  if (shape.table === undefined) return null
  for (const [index, [level, volume]] of shape.table.entries()) {
    const before = shape.table[index - 1]
    if (before === undefined || (level > before[0] && volume > before[1])) continue
    const found = `${before[0]} m, ${before[1]} l and then ${level} m, ${volume} l`
    issues.push(error(['tank', 'shape', 'table', index], 'must rise in level and volume', { found }))
  }
  return { kind: 'table', points: shape.table }
}

type LinesInput = NonNullable<SiteSections['lines']>

function buildLines(lines: LinesInput, draft: SiteDraft, issues: Issue[]): LineSettings[] {
  const keys = draft.boards?.flatMap((board) => board.signals.map((signal) => signal.key)) ?? null
  const names = lines.map((line) => line.name)
  return lines.map((line, index) => {
    const path = ['lines', index]
    if (names.indexOf(line.name) !== index) {
      issues.push(error([...path, 'name'], 'is there twice', { found: shown(line.name), expected: 'each name once' }))
    }
    return {
      name: line.name,
      kind: line.kind,
      insideDiameterM: line.inside_diameter ?? null,
      depthM: line.depth ?? null,
      insulationM: line.insulation ?? null,
      temperatureKey: temperatureKey(line.temperature_role, keys, [...path, 'temperature_role'], issues),
    }
  })
}

function temperatureKey(
  word: string | undefined,
  keys: readonly string[] | null,
  path: readonly (string | number)[],
  issues: Issue[],
): string | null {
  if (word === undefined) return null
  if (!isSignalKey(word) || !word.includes('-temperature')) {
    const expected = 'the key of a temperature signal, such as line-temperature or line-temperature.kitchen'
    issues.push(
      error(path, 'is no temperature signal', { found: shown(word), expected, hint: meant(word, keys ?? []) }),
    )
    return null
  }
  if (keys === null || keys.includes(word)) return word
  const hint = meant(word, keys)
  const expected = 'a signal of one of the boards; until then the line is followed from the air'
  issues.push(warning(path, 'names a signal that no board sends', { found: shown(word), expected, hint }))
  return null
}

function buildUpkeep(upkeep: NonNullable<SiteSections['upkeep']>, issues: Issue[]): UpkeepSettings[] {
  const names = upkeep.map(({ name }) => name.toLowerCase())
  return upkeep.map(({ name, every }, index) => {
    if (names.indexOf(name.toLowerCase()) !== index) {
      const words = { found: shown(name), expected: 'each name once' }
      issues.push(error(['upkeep', index, 'name'], 'is there twice', words))
    }
    return { name, everyDays: every / 86_400 }
  })
}

function buildHabits(draft: SiteDraft, { water, away, season, site }: SiteSections, issues: Issue[]): void {
  if (water !== undefined) draft.water = { people: water.people ?? null, dailyNeedL: water.daily_need ?? null }
  if (season !== undefined) draft.season = { winterized: season.winterized }
  if (away === undefined || site === undefined) return
  const calendar: (readonly [Ms, Ms])[] = []
  for (const [index, [from, to]] of away.calendar.entries()) {
    const path = ['away', 'calendar', index]
    const span = absence(site.timezone, from, to)
    if (span === null) issues.push(error(path, 'has a date that does not exist', { found: `${from}, ${to}` }))
    else if (span[1] <= span[0]) issues.push(error(path, 'ends before it begins', { found: `${from}, ${to}` }))
    else calendar.push(span)
  }
  draft.away = { usual: away.default, calendar: calendar.toSorted((a, b) => a[0] - b[0]) }
}
