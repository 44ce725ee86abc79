/** Cold tonight: the minimum and its doubt, the lines, the ground, the battery, closing and opening. */
import { formatAboutHours } from '../../model/format.js'
import type { FreezeBody } from '../bodies/freeze.js'
import { el, facts, table } from './dom.js'
import { NOT_KNOWN, type People } from './people.js'

type Row = readonly [string, string]

const METHOD_WORDS: Readonly<Record<string, string>> = {
  own: 'own nights',
  general: 'general rule',
  forecast: 'forecast sent in',
  persistence: 'as last night',
}

const WHY_NOT: Readonly<Record<string, string>> = {
  'no-place': 'It needs latitude and longitude in the configuration.',
  'no-thermometer': 'It needs a thermometer in the air, or on a line.',
  'no-night': 'The sun does not set.',
  'not-yet': 'A day of temperatures is needed first.',
}

/** A range of temperatures: both ends in people's unit. */
function range(c: number, sd: number, people: People): string {
  return `${people.say('temperature', c - sd)} to ${people.say('temperature', c + sd)}`
}

function tonightRows(body: FreezeBody, people: People): Row[] {
  const { tonight } = body
  if (tonight === null) return [['Tonight', `${NOT_KNOWN}. ${WHY_NOT[body.no_tonight ?? ''] ?? ''}`]]
  const basis = tonight.evening ? '' : '; a first idea, known better two hours after sunset'
  const margin = tonight.method === 'general' ? ', with wide margins: not enough own nights yet' : ''
  const sky = tonight.sky === null ? '' : `; the sky seems ${tonight.sky === 'mixed' ? 'partly clouded' : tonight.sky}`
  return [
    ['Coldest', `${people.say('temperature', tonight.expected_min_c)} around ${people.when(tonight.sunrise)}`],
    ['Two nights of three', range(tonight.expected_min_c, tonight.sd_c, people)],
    ['Said by', `${METHOD_WORDS[tonight.method] ?? tonight.method}${margin}${basis}${sky}`],
  ]
}

function lineWords(line: FreezeBody['lines'][number], people: People): string {
  if (line.water === 'drained') return 'drained'
  if (line.kind === 'buried') {
    const words = {
      no: 'frost does not reach it',
      'in-a-fortnight': 'frost may reach it in a fortnight',
      yes: 'frost reaches it',
    }
    return line.frost_reaches === null ? NOT_KNOWN : words[line.frost_reaches]
  }
  const parts = [people.say('temperature', line.temperature_c)]
  if (line.expected_min_c !== null) parts.push(`coldest ${people.say('temperature', line.expected_min_c)}`)
  if (line.frozen_since !== null) parts.push(`at freezing since ${people.when(line.frozen_since)}`)
  else if (line.hours_to_zero !== null) parts.push(`freezing in ${formatAboutHours(line.hours_to_zero)}`)
  else if (line.hours_to_zero_least !== null) {
    parts.push(`freezing in ${formatAboutHours(line.hours_to_zero_least)} if it gets colder than expected`)
  }
  if (line.hours_to_ice !== null) parts.push(`ice through in ${formatAboutHours(line.hours_to_ice)}`)
  if (line.water === 'flowing') parts.push('water flows')
  return parts.join('; ')
}

function groundRow(body: FreezeBody, people: People): Row[] {
  const { frost } = body
  if (frost === null) return []
  if (frost.depth_m <= 0) return [['Frost in the ground', `none, by ${frost.days} days since ${frost.since}`]]
  return [
    [
      'Frost in the ground',
      `${people.say('length', frost.depth_m)} in bare ground (${people.say('length', frost.depth_turf_m)} under turf), reckoned from ${frost.days} days`,
    ],
  ]
}

function batteryRow(body: FreezeBody, people: People): Row[] {
  const { battery } = body
  if (battery === null) return []
  const coldest = `coldest ${people.say('temperature', battery.expected_min_c)}`
  if (battery.kind === 'lithium') {
    return [['Battery', battery.threatened ? `${coldest}: too cold to be charged until it is warmer` : coldest]]
  }
  const freezes = `freezes at ${people.say('temperature', battery.freezes_at_c)} at its charge`
  return [['Battery', `${coldest}; ${freezes}${battery.threatened ? ': charge it, or keep it warm' : ''}`]]
}

function seasonPart(title: string, season: FreezeBody['closing']): HTMLElement {
  const when = season.known ? `between ${season.from} and ${season.to} (${season.rests_on})` : season.rests_on
  return el(
    'details',
    {},
    el('summary', {}, `${title}: ${when}`),
    el('ol', {}, ...season.steps.map((step) => el('li', {}, step))),
  )
}

/** Nothing where no line is configured and nothing is known of the night. */
export function coldPart(body: FreezeBody, people: People): HTMLElement[] {
  if (body.lines.length === 0 && body.tonight === null) return []
  const rows: Row[] = [
    ...tonightRows(body, people),
    ...body.lines.map((line): Row => [line.name, lineWords(line, people)]),
    ...groundRow(body, people),
    ...batteryRow(body, people),
  ]
  const course = body.tonight?.course ?? []
  const methods = body.methods.filter((one) => one.rms_c !== null)
  return [
    facts(rows),
    ...(course.length === 0
      ? []
      : [
          el(
            'details',
            {},
            el('summary', {}, 'The night, hour by hour'),
            table(
              'Expected temperature',
              ['Time', 'Expected', 'Two of three'],
              course.map((point) => [
                people.when(point.at),
                people.say('temperature', point.c),
                range(point.c, point.sd_c, people),
              ]),
            ),
          ),
        ]),
    ...(methods.length === 0
      ? []
      : [
          el(
            'details',
            {},
            el('summary', {}, 'How right each way has been here'),
            table(
              'Usual error of the minimum',
              ['Way', 'Nights', 'Error'],
              methods.map((one) => [
                METHOD_WORDS[one.method] ?? one.method,
                String(one.nights),
                `${(one.rms_c ?? 0).toFixed(1)}\u00a0K`,
              ]),
            ),
          ),
        ]),
    seasonPart('Close the place', body.closing),
    seasonPart('Open it again', body.opening),
    el('p', { class: 'quiet' }, body.cautions.join(' ')),
  ]
}
