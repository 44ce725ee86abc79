/** Water, pump, battery, and sky and cold: what is known of each, in words and a few figures. */
import type { NowBody } from '../bodies/now.js'
import { formatAboutHours } from '../../model/format.js'
import { wellRows } from './well.js'
import { el, facts } from './dom.js'
import { duration, NOT_KNOWN, type People } from './people.js'
import { ruler } from './ruler.js'

const END_WORDS: Readonly<Record<string, string>> = {
  full: 'the tank was full',
  'power-lost': 'the power was lost',
  dry: 'the well ran dry',
  stalled: 'the pump stalled',
  manual: 'it was switched off',
  unknown: 'why is not known',
}

const KIND_WORDS: Readonly<Record<string, string>> = {
  lifepo4: 'lithium iron phosphate',
  flooded: 'lead-acid, flooded',
  agm: 'lead-acid, glass mat',
  gel: 'lead-acid, gel',
}

/** How a run ended, as the rest of a sentence. */
export function endWords(reason: string): string {
  return END_WORDS[reason] ?? reason
}

function probeWords(wet: boolean | null): string | null {
  return wet === null ? null : wet ? 'wet' : 'dry'
}

type Row = readonly [string, string]

function probeRows(water: NonNullable<NowBody['water']>): Row[] {
  const rows: [string, boolean | null][] = [
    ['Low probe', water.low_wet],
    ['High probe', water.high_wet],
    ['Overflow probe', water.full_wet],
  ]
  return rows.flatMap(([name, wet]) => {
    const words = probeWords(wet)
    return words === null ? [] : [[name, words] as const]
  })
}

export function waterPart(now: NowBody, people: People): HTMLElement {
  const { water, tank } = now
  const left = water?.hours_left ?? null
  const volume = people.sure('volume', water?.volume_l ?? null, water?.volume_sd_l ?? null)
  const reckoned = water?.reckoned === true && water.volume_l !== null
  return el(
    'section',
    { 'aria-labelledby': 'water-title' },
    el('h3', { id: 'water-title' }, 'Water'),
    facts([
      ['In the tank', reckoned ? `${volume}, reckoned from the last mark and the usual use, not measured` : volume],
      tank === null ? null : ['Holds to the overflow', people.say('volume', tank.capacity_l)],
      ['Lasts', left === null ? NOT_KNOWN : `${formatAboutHours(left)} at the usual use`],
      ['Usual use', water?.draw_l_per_h == null ? NOT_KNOWN : `${people.say('volume', water.draw_l_per_h * 24)} a day`],
      ...(water === null ? [] : probeRows(water)),
      water?.called_since == null ? null : ['Water called for', `since ${people.when(water.called_since)}`],
    ]),
  )
}

function fillRuler(pump: NonNullable<NowBody['pump']>): SVGSVGElement | null {
  const usual = pump.expected_fill_s
  if (!pump.running || usual === null) return null
  return ruler({
    title: `This fill has run for ${duration(pump.ran_s)}; from where it began it usually takes ${duration(usual)}.`,
    from: 0,
    to: Math.max(usual * 1.25, pump.ran_s),
    value: pump.ran_s,
    valueWords: `running ${duration(pump.ran_s)}`,
    marks: [{ at: usual, words: `usual ${duration(usual)}` }],
  })
}

function pumpState(pump: NowBody['pump'], people: People): string {
  if (pump === null || !pump.known) return NOT_KNOWN
  if (pump.running) return `running since ${people.when(pump.since)}`
  if (pump.resting_until !== null) return `resting the well until ${people.when(pump.resting_until)}`
  return 'resting'
}

function arrivingRow(now: NowBody): Row | null {
  if (now.pump?.running !== true) return null
  const arriving = now.water?.arriving ?? null
  return ['Water arrives', arriving === null ? `${NOT_KNOWN}: it cannot be told just now` : arriving ? 'yes' : 'no']
}

export function pumpPart(now: NowBody, people: People): HTMLElement {
  const { pump } = now
  const usual = pump?.usual_current_a ?? null
  const current = people.say('current', pump?.current_a ?? null)
  const flow = pump?.usual_flow_l_min ?? null
  return el(
    'section',
    { 'aria-labelledby': 'pump-title' },
    el('h3', { id: 'pump-title' }, 'Pump'),
    pump === null ? null : fillRuler(pump),
    facts([
      ['State', pumpState(pump, people)],
      arrivingRow(now),
      [
        'Current',
        usual === null
          ? `${current} (its usual is not known yet)`
          : `${current} (usual ${people.say('current', usual.value)})`,
      ],
      ['Usual flow', flow === null ? NOT_KNOWN : people.say('flow', flow.value)],
      ...wellRows(now, people),
      pump?.last_end_at == null
        ? ['Last fill', NOT_KNOWN]
        : ['Last fill', `ended ${people.when(pump.last_end_at)}: ${endWords(pump.last_end ?? 'unknown')}`],
    ]),
  )
}

function voltageRuler(battery: NonNullable<NowBody['battery']>, people: People): SVGSVGElement | null {
  const { voltage_v: voltage, cut_off_v: cutOff, nominal_v: nominal } = battery
  if (voltage === null || cutOff === null || nominal === null) return null
  const low = battery.loaded ? battery.loaded_low_v : battery.rest_low_v
  const marks = [{ at: cutOff, words: `cut-off ${people.say('voltage', cutOff)}` }]
  if (low !== null) marks.push({ at: low, words: `low ${people.say('voltage', low)}` })
  const state = battery.loaded ? 'under load' : 'at rest'
  return ruler({
    title: `${people.say('voltage', voltage)} ${state}; ${marks.map((mark) => mark.words).join(', ')}.`,
    from: cutOff - nominal * 0.03,
    to: Math.max(nominal * 1.22, voltage),
    value: voltage,
    valueWords: people.say('voltage', voltage),
    marks,
  })
}

/** Counted charge with its doubt, or the band that the resting voltage allows. */
function chargeWords(now: NowBody, people: People): string {
  const charge = now.power?.charge ?? null
  if (charge === null) return `${NOT_KNOWN}: it has not been seen full or at rest yet`
  if (charge.share !== null && charge.sd !== null)
    return `${people.say('ratio', charge.share)} ± ${people.say('ratio', charge.sd)}, counted since it was last full`
  return `between ${people.say('ratio', charge.low)} and ${people.say('ratio', charge.high)}, by its voltage at rest`
}

export function batteryPart(now: NowBody, people: People): HTMLElement {
  const { battery } = now
  const toCutOff = now.power?.cut_off ?? null
  const kind =
    battery?.chemistry == null
      ? null
      : `${KIND_WORDS[battery.chemistry] ?? battery.chemistry}, ${battery.nominal_v}\u00a0V`
  return el(
    'section',
    { 'aria-labelledby': 'battery-title' },
    el('h3', { id: 'battery-title' }, 'Battery'),
    battery === null ? null : voltageRuler(battery, people),
    facts([
      [
        'Voltage',
        battery?.voltage_v == null
          ? NOT_KNOWN
          : `${people.say('voltage', battery.voltage_v)} ${battery.loaded ? 'under load' : 'at rest'}`,
      ],
      toCutOff === null
        ? null
        : [
            'To its cut-off',
            `${formatAboutHours(toCutOff.low_h)} to ${formatAboutHours(toCutOff.high_h)} at this load, without sun`,
          ],
      battery?.temperature_c == null ? null : ['Temperature', people.say('temperature', battery.temperature_c)],
      kind === null ? null : ['Kind', kind],
      ['Charge', chargeWords(now, people)],
      now.power?.last_full_at == null ? null : ['Last full', people.when(now.power.last_full_at)],
    ]),
  )
}

function lineWords(line: NowBody['lines'][number], people: People): string {
  const temperature = people.say('temperature', line.temperature_c)
  const how = line.temperature_c !== null && line.modelled ? ', followed from the air' : ''
  if (line.frozen_since !== null) return `${temperature}${how}; at freezing since ${people.when(line.frozen_since)}`
  const left =
    line.hours_to_zero === null ? '' : `; freezing in ${formatAboutHours(line.hours_to_zero)} as it falls now`
  return `${temperature}${how}${left}`
}

export function skyPart(now: NowBody, people: People): HTMLElement {
  const { sky } = now
  const has = (role: string): boolean => now.latest.some((one) => one.role === role)
  return el(
    'section',
    { 'aria-labelledby': 'sky-title' },
    el('h3', { id: 'sky-title' }, 'Sky and cold'),
    facts([
      ['Air', people.say('temperature', sky.air_c)],
      has('humidity') ? ['Humidity', sky.humidity === null ? NOT_KNOWN : `${Math.round(sky.humidity)}\u00a0%`] : null,
      has('panel-current') || has('panel-voltage')
        ? ['Panels', `${people.say('voltage', sky.panel_v)}, ${people.say('current', sky.panel_a)}`]
        : ['Panels', `${NOT_KNOWN}: no sensor`],
      ...now.lines.map((one): Row => [`Line: ${one.name}`, lineWords(one, people)]),
    ]),
  )
}
