/** docs/alarms.md, written from the definitions themselves, so that the manual cannot differ from the program. */
import { ALARM_SPECS, type AlarmSpec, type SettingKind, type SettingSpec } from '../model/alarm-settings.js'
import { ALARM_IDS, type AlarmId } from '../model/alarm.js'
import { formatDuration, formatNumber } from '../model/format.js'
import { LIMITS } from '../model/limits.js'
import { SECOND } from '../model/time.js'
import { ALARM_DEFINITIONS } from './alarms/index.js'
import type { AlarmDefinition, Explainer } from './definition.js'

const INTRODUCTION = `# Alarms

<!-- Written from the code by \`npx tsx config/tooling/alarm-docs.ts\`; a test compares it. Change the code instead. -->

States, priorities and words follow ANSI/ISA-18.2 (IEC 62682). This program warns; it is no safety device and must not
be the only guard of a pump.

## What is common to all

- **Delays.** A condition must hold for the whole \`on_delay\` before its alarm is raised, and be gone for the whole
  \`off_delay\` before it returns to normal. Both can be set, as can \`enabled\` and \`priority\`.
- **Unknown.** Where a needed figure is missing or stale, an alarm is neither raised nor ended. Silence has its own alarms.
- **One fault, one story.** While an alarm stands that explains another, the other is shown beneath it and not told. If
  it outlives its cause by ${formatDuration(LIMITS.groupHoldMs)}, it is told then. A cause that comes after its consequence is told; its
  all-clear speaks for both.
- **All-clear.** Whatever was told ends with an all-clear, ${formatDuration(LIMITS.settleMs)} after the condition has gone, with how long it lasted.
- **On and off.** An alarm that comes again after its all-clear is told once more as "on and off", then no more until it
  has been normal for ${formatDuration(LIMITS.onAndOffNormalMs)}. Of one alarm at most ${LIMITS.noticesInDayMax} messages are made in 24 h.
- **Learning.** In the first 8 complete fills or 14 days, alarms that rest on the site's own usual are quiet: see each.
- **Winterized.** Drained things are quiet: see each. A pump that runs in a winterized place is told, critical, as \`fill-long\`.
- **Maintenance.** Only alarms marked so are told while people work at the place; what still holds afterwards is told then.
- **Shelf.** An alarm can be put aside for a time (${formatDuration(LIMITS.shelveMaxMs)} at most) with a reason; it comes back by itself.
- **Long past.** Nothing is raised for a moment more than ${formatDuration(LIMITS.staleAlarmMs)} past, though an alarm may end by it.
`

/** The whole manual of the alarms, as Markdown. */
export function alarmManual(): string {
  const written = ALARM_IDS.flatMap((id) => {
    const definition = ALARM_DEFINITIONS.find((one) => one.id === id)
    return definition === undefined ? [] : [{ id, definition }]
  })
  const rows = written.map(
    ({ id, definition }) => `| [\`${id}\`](#${id}) | ${ALARM_SPECS[id].priority} | ${definition.toldWithin} |`,
  )
  const sections = written.map(({ id, definition }) => section(id, definition))
  const table = ['## List', '', '| alarm | priority | told within |', '|---|---|---|', ...rows].join('\n')
  return `${[INTRODUCTION, table, '', ...sections].join('\n').trimEnd()}\n`
}

function section(id: AlarmId, definition: AlarmDefinition): string {
  const spec: AlarmSpec = ALARM_SPECS[id]
  const causes = Object.entries(definition.causes).map(([code, meaning]) => `| \`${code}\` | ${meaning} |`)
  return [
    `## ${id}`,
    '',
    `**Holds when:** ${definition.meaning}`,
    '',
    `- Priority: ${spec.priority}. Told within: ${definition.toldWithin}.`,
    `- Needs: ${definition.needs}.`,
    `- What to do: ${definition.advice}`,
    `- While learning: ${quiet(definition.quietWhenLearning)}. Winterized: ${quiet(definition.quietWhenWinterized)}. In maintenance: ${quiet(definition.quietInMaintenance)}.`,
    ...(definition.latches ? ['- Stays on the list (latched) until somebody has acknowledged it.'] : []),
    `- Explained by: ${explainers(definition.explainedBy)}.`,
    '',
    '| cause | meaning |',
    '|---|---|',
    ...causes,
    '',
    '| setting | default | meaning |',
    '|---|---|---|',
    `| \`on_delay\` | "${spec.onDelayS} s" | Must hold this long. |`,
    `| \`off_delay\` | "${spec.offDelayS} s" | Must be gone this long. |`,
    ...Object.entries(spec.numbers).map(([name, one]) => settingRow(name, one)),
    '',
  ].join('\n')
}

function quiet(is: boolean): string {
  return is ? 'quiet' : 'judged'
}

function explainers(all: readonly Explainer[]): string {
  const list = all.filter(({ by }) => ALARM_DEFINITIONS.some(({ id }) => id === by))
  if (list.length === 0) return 'nothing'
  return list
    .map(({ by, causes, ofCauses, sameBoard, withinMs }) => {
      const notes = [
        ...(causes === undefined ? [] : [`as ${causes.map((cause) => `\`${cause}\``).join(' or ')}`]),
        ...(ofCauses === undefined ? [] : [`explains ${ofCauses.map((cause) => `\`${cause}\``).join(', ')} only`]),
        ...(sameBoard === true ? ['of the same board'] : []),
        ...(withinMs === undefined ? [] : [`raised within ${formatDuration(withinMs)}`]),
      ]
      return notes.length === 0 ? `\`${by}\`` : `\`${by}\` (${notes.join(', ')})`
    })
    .join(', ')
}

function settingRow(name: string, { kind, default: value, meaning }: SettingSpec): string {
  return `| \`${name}\` | ${defaultText(kind, value)} | ${meaning} |`
}

/** As one would write it in the configuration. */
function defaultText(kind: SettingKind, value: number): string {
  switch (kind) {
    case 'duration':
      return `"${value} s" (${formatDuration(value * SECOND)})`
    case 'temperature':
      return `"${value} degC"`
    case 'volume':
      return `"${value} l"`
    case 'ratio':
      return `${value}`
    case 'count':
      return formatNumber(value, 0)
  }
}
