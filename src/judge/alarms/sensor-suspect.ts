import type { QuantityKind } from '../../model/alarm.js'
import type { SuspectFacts, SuspectKind } from '../../model/facts.js'
import { LIMITS } from '../../model/limits.js'
import { defineAlarm, holding, QUIET, type Telling, type Verdict, type View, type Watch } from '../definition.js'
import { evidence, evidenceList, signalName, titleWith } from '../phrase.js'
import { CAUTION_PUMP } from './common.js'

/** A lost thermometer matters more when it is cold. */
const FROST_C = 1
/** Kinds whose subject is a board. */
const OF_BOARDS: ReadonlySet<SuspectKind> = new Set(['resets-at-start', 'restarts', 'two-boards-one-name'])
const OF_WINTERIZED = ['tank-', 'pump-', 'line-', 'box-', 'house-']

type KindWords = {
  readonly figure: string
  readonly quantity: QuantityKind
  /** In words, since no number is usual of a fault. */
  readonly usual: string
  readonly says: string
  readonly causes: readonly string[]
  /** Where it is no sensor's own story. */
  readonly title?: string
  readonly who?: string
  readonly action?: string
  readonly ifIgnored?: string
  readonly caution?: string
  /** Seconds that it must hold, where its own evidence has already been gathered for minutes. */
  readonly onDelayS?: number
}

const KINDS: Readonly<Record<SuspectKind, KindWords>> = {
  'probes-contradict': {
    figure: 'Contradicting for',
    quantity: 'count',
    usual: 'none',
    says: 'contradicts another probe: a higher one is wet while a lower one is dry',
    causes: ['The dry probe is fouled or its wire is off.', 'The wet probe is bridged by dirt or moisture.'],
  },
  stuck: {
    figure: 'Pumped meanwhile',
    quantity: 'volume',
    usual: 'none',
    says: 'has stood still though it should have moved',
    causes: [
      'The sensor or its board hangs and repeats one value.',
      'What it measures truly stood still: compare by eye.',
    ],
  },
  'failed-values': {
    figure: 'Share of failed readings',
    quantity: 'ratio',
    usual: 'none',
    says: 'sends values that mean "sensor failed"',
    causes: [
      'A wire is off or wet.',
      'The sensor is broken.',
      'Its supply is too low.',
      'Its values come in another unit or scale, as after new firmware: the refused records show them.',
    ],
  },
  'too-fast': {
    figure: 'Steps that nothing real makes',
    quantity: 'count',
    usual: 'none',
    says: 'jumps faster than water or a battery can',
    causes: ['A loose contact or electrical noise.', 'Another unit or another sensor after a change on the board.'],
  },
  'contact-chatter': {
    figure: 'Changes in a minute',
    quantity: 'count',
    usual: 'none',
    says: 'switches to and fro far too often',
    causes: ['A loose contact.', 'A float or probe just at the surface, or waves.'],
  },
  'control-chatter': {
    figure: 'Switches in a minute',
    quantity: 'count',
    usual: '2 in 60 min',
    says: 'has been switched on and off again and again',
    causes: [
      'A float or probe just at the surface, or a loose contact in the level control.',
      'A relay that flutters because its own supply sags, or a battery protection that cuts off and joins again.',
      'A pressure switch with too little difference between on and off.',
    ],
    title: 'Pump is switched on and off again and again',
    who: 'the pump',
    action: 'Switch the pump off, then look at the float or probes, their wires, and the relay.',
    ifIgnored: 'Each start is a surge: contacts weld, the motor overheats, and the tank hardly fills.',
    caution: CAUTION_PUMP,
    onDelayS: 0,
  },
  missing: {
    figure: 'Missing for',
    quantity: 'duration',
    usual: 'less than a minute',
    says: 'is missing though its board talks',
    causes: ['The sensor or its wire has failed.', 'The board no longer sends it, or under another name.'],
  },
  unit: {
    figure: 'Share of readings held back',
    quantity: 'ratio',
    usual: 'none',
    says: 'comes in another unit or scale since it jumped',
    causes: [
      'New firmware or a new setting of the board.',
      'Another sensor was fitted.',
      'A sensor or wire that fails so.',
    ],
    title: 'Readings in another unit',
    action:
      'Compare the board with its data sheet and settings; put the unit right there or in the configuration. If it is right as it is now, note a new baseline in the service log.',
  },
  'resets-at-start': {
    figure: 'Of the last four starts',
    quantity: 'count',
    usual: 'none',
    says: 'begins anew when the well pump starts',
    causes: [
      'The surge of the pump pulls the supply down: the board is fed from the same wires, a thin wire or a bad joint.',
      'The battery or its joints are weak: see the voltage drop at starts.',
      'Its own regulator or fuse holder is marginal.',
    ],
    title: 'A board begins anew when the pump starts',
    action:
      'Feed the board straight from the battery with wires of its own, and look at joints and fuse holders; a capacitor at the board helps.',
    ifIgnored:
      'The start of each fill is not seen, its first seconds of current are lost, and one day it may not come back.',
    caution: CAUTION_PUMP,
    onDelayS: 0,
  },
  restarts: {
    figure: 'Gaps in an hour',
    quantity: 'count',
    usual: 'none',
    says: 'is gone and back again over and over',
    causes: [
      'It restarts: its supply is too weak or its program hangs and is reset.',
      'Its radio link is poor, and messages without acknowledgement (QoS 0) are lost.',
    ],
    title: 'A board is gone and back over and over',
    action: 'Look at its supply and aerial, and whether it sends with QoS 1.',
    ifIgnored: 'Runs are seen with holes, and an alarm may come late.',
  },
  'two-boards-one-name': {
    figure: 'Times pushed out in two minutes',
    quantity: 'count',
    usual: 'none',
    says: 'has a double: two clients connect under its name and push each other out',
    causes: [
      'Two boards carry the same client id, as after a copied firmware or a spare that was left on.',
      'One board that loses its link and connects again every few seconds.',
    ],
    title: 'Two boards use one name',
    action: 'Switch one of the two off, then give each board a client id and an account of its own.',
    ifIgnored: 'Readings of two places are taken for one, and either may be missing at any time.',
    onDelayS: 0,
  },
  'not-possible': {
    figure: 'Share of the energy that ends in lifted water',
    quantity: 'ratio',
    usual: '20 to 45 %',
    says: 'shows what physics does not allow',
    causes: ['A wrong unit, scale or calibration.', 'A sensor that drifts or is fitted wrongly.'],
  },
}

/** What the samples show, and what only the broker sees. */
function suspectsOf({ facts, daemon }: View): readonly SuspectFacts[] {
  if (daemon.twoBoards.length === 0) return facts.suspects
  const kind = 'two-boards-one-name'
  return [
    ...daemon.twoBoards.map(({ board, since, takeovers }) => ({ key: board, kind, since, figure: takeovers }) as const),
    ...facts.suspects,
  ]
}

function look(view: View): readonly Verdict[] {
  const suspects = suspectsOf(view)
  if (suspects.length === 0) return QUIET
  const found: Verdict[] = []
  for (const suspect of suspects) {
    if (
      view.modes.winterized &&
      !OF_BOARDS.has(suspect.kind) &&
      OF_WINTERIZED.some((start) => suspect.key.startsWith(start))
    )
      continue
    if (found.some((verdict) => verdict.subject === suspect.key)) continue
    found.push(verdictOf(view, suspect))
  }
  return found
}

function verdictOf(view: View, suspect: SuspectFacts): Verdict {
  const kind = KINDS[suspect.kind]
  const { onDelayS } = kind
  const lostInFrost =
    (suspect.kind === 'failed-values' || suspect.kind === 'missing') &&
    (suspect.key.startsWith('line-temperature') || suspect.key.startsWith('box-temperature')) &&
    view.facts.airC !== null &&
    view.facts.airC <= FROST_C
  const held = holding(
    suspect.key,
    suspect.since,
    suspect.kind,
    evidenceList(evidence(kind.figure, kind.quantity, figureOf(suspect))),
    lostInFrost ? 'high' : null,
  )
  return onDelayS === undefined ? held : { ...held, onDelayS }
}

/** The number in the unit of its kind; null where there is none worth showing. */
function figureOf({ kind, figure }: SuspectFacts): number | null {
  if (kind === 'probes-contradict') return null
  if (kind === 'stuck') return figure > 0 ? figure : null
  return kind === 'missing' ? figure * 60 : figure
}

function words({ view, verdict, since, say }: Telling) {
  const suspect = suspectsOf(view).find((one) => one.key === verdict.subject && one.kind === verdict.cause)
  const name = signalName(verdict.subject)
  const kind = suspect === undefined ? null : KINDS[suspect.kind]
  const figure =
    suspect === undefined || kind === null || figureOf(suspect) === null
      ? ''
      : ` (${kind.figure.toLowerCase()}: ${say.quantity(kind.quantity, figureOf(suspect))}, usually ${kind.usual})`
  const frost = verdict.priority === 'high'
  const frostWords = frost
    ? ` The air is at ${say.quantity('temperature', view.facts.airC)}: take it as freezing until you know better.`
    : ''
  return {
    title: kind?.title ?? titleWith('Sensor in doubt: ', name, ''),
    what: `Since ${say.time(since)} ${kind?.who ?? (OF_BOARDS.has(suspect?.kind ?? 'stuck') ? `the board ${verdict.subject}` : `the signal ${name}`)} ${kind?.says ?? 'cannot be believed'}${suspect?.likely === undefined ? '' : `: most likely ${suspect.likely}`}${figure}.${frostWords}`,
    causes: kind?.causes ?? ['The sensor, its wire or its board.'],
    action: frost
      ? 'Have somebody look at the line itself, then at the sensor and its wire.'
      : (kind?.action ?? 'Compare the sensor with what you see at the place, then look at its wire and its supply.'),
    ifIgnored:
      kind?.ifIgnored ??
      'What rests on this signal is unknown: its alarms cannot be raised or end, for as long as it is in doubt.',
    caution: kind?.caution ?? null,
    timeLeft: null,
  }
}

const causes: Readonly<Record<SuspectKind, string>> = {
  'probes-contradict': 'A high probe is wet while a lower one is dry.',
  stuck: 'A value stands still while it should move.',
  'failed-values': 'Values that a sensor sends when it has failed, or values out of range.',
  'too-fast': 'Steps that no water or battery makes.',
  'contact-chatter': 'A contact that switches far too often.',
  'control-chatter': 'The pump itself is switched on and off again and again (told within 3 min).',
  missing: 'A signal that is missing while its board talks.',
  unit: 'Another unit or scale: most likely which is named; held back from all figures.',
  'resets-at-start': 'A board begins anew at the starts of the well pump: three of the last four (told at the third).',
  restarts: 'A board is gone and back ten times an hour and more.',
  'two-boards-one-name': 'Two boards connect under one name (told within 2 min).',
  'not-possible': 'A figure that physics does not allow.',
}

export const sensorSuspect = defineAlarm({
  id: 'sensor-suspect',
  meaning:
    'A signal contradicts others or physics, stands still, is noisy, missing, or says that its sensor has failed.',
  toldWithin: '30 min',
  needs: 'nothing further',
  causes,
  advice: 'Compare with what you see at the place. A lost line thermometer in frost is of high priority.',
  explainedBy: [
    { by: 'board-silent', sameBoard: true },
    { by: 'site-silent' },
    // A pump that moves no water explains a level that stands still, never probes that contradict each other.
    { by: 'no-rise', ofCauses: ['stuck'] },
    { by: 'dry-well', ofCauses: ['stuck', 'contact-chatter'] },
    { by: 'pump-stalled', ofCauses: ['stuck', 'contact-chatter', 'control-chatter'] },
    { by: 'overfill', ofCauses: ['stuck', 'contact-chatter'] },
    { by: 'battery-low' },
    { by: 'store-failing' },
    { by: 'sensor-suspect', sameBoard: true, withinMs: LIMITS.siblingWindowMs },
    // A fouled probe makes the control start a full tank again and again.
    { by: 'sensor-suspect', causes: ['probes-contradict'], ofCauses: ['control-chatter', 'contact-chatter'] },
  ],
  prepare: (): Watch => ({ look, words }),
})
