import { DAY, HOUR } from '../../model/time.js'
import { defineAlarm, holding, type Prepared, QUIET, type Telling, type View, type Watch } from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'
import { CAUTION_BATTERY, toCutOff } from './common.js'

const BATTERY = 'battery'

function look(view: View, { site, numbers }: Prepared<'battery-not-full'>) {
  const { power } = view.facts
  if (site.battery === null) return QUIET
  const limit = site.battery.chemistry === 'lifepo4' ? numbers.lithium_days : numbers.days
  if (power.full || power.daysNotFull < limit) return QUIET
  return [
    holding(
      BATTERY,
      power.lastFullAt ?? view.at - power.daysNotFull * DAY,
      'not-full',
      evidenceList(
        evidence('Days not full', 'count', power.daysNotFull, 0),
        evidence('Battery voltage', 'voltage', view.facts.battery.recentV),
        evidence('Charge', 'ratio', power.charge?.share ?? null),
        evidence("Harvest of a clear sky's", 'ratio', power.array?.ratio ?? null, power.array?.usualRatio ?? null),
      ),
    ),
  ]
}

function words({ view, say }: Telling, { site }: Prepared<'battery-not-full'>) {
  const { power } = view.facts
  const last =
    power.lastFullAt === null ? 'It has not been seen full yet' : `It was last full at ${say.time(power.lastFullAt)}`
  const lead = site.battery?.chemistry !== 'lifepo4'
  return {
    title: `Battery not full for ${power.daysNotFull} days`,
    what: `${last}; ${power.daysNotFull} days since then were watched, and on none of them did it become full. ${chargeWords(view, say)}`,
    causes: [
      'Too little sun for what is used: dull days, short days, shade or snow on the panels.',
      'More is used than before.',
      lead
        ? 'The charger gives up too early or its voltage is set too low; an old lead-acid battery takes ever longer to fill.'
        : 'The charger is set too low for this battery, or its protection stops the charge.',
    ],
    action: lead
      ? 'Use less, or give it a full charge from a generator or charger, with hours of absorption.'
      : 'Use less until the sun is back. A lithium battery does not suffer from this, but its reserve does, and its gauge drifts.',
    ifIgnored: lead
      ? 'A lead-acid battery that is not full for weeks sulphates: it loses capacity for good.'
      : 'The reserve for dull days dwindles; the cells are not balanced.',
    caution: CAUTION_BATTERY,
    timeLeft: toCutOff(power.cutOff, say),
  }
}

function chargeWords({ facts, at }: View, say: Telling['say']): string {
  const { charge } = facts.power
  if (charge === null) return 'How much charge is in it is not known.'
  if (charge.share !== null && charge.sd !== null) {
    return `Charge now, counted since then: ${say.quantity('ratio', charge.share)} ± ${say.quantity('ratio', charge.sd)}.`
  }
  const old = at - charge.from > HOUR ? ` at ${say.time(charge.from)}` : ''
  return `By its voltage at rest${old} its charge lies between ${say.quantity('ratio', charge.low)} and ${say.quantity('ratio', charge.high)}.`
}

export const batteryNotFull = defineAlarm({
  id: 'battery-not-full',
  meaning:
    'The battery has not been full on any of so many days that were watched. Full is, by chemistry, a held voltage with a small current, or hours of absorption, or floating after it.',
  toldWithin: 'the evening of that day',
  needs: '`battery-voltage`, the battery in the configuration; `battery-current` makes it surer',
  causes: {
    'not-full':
      'For `days` days, where it is lead-acid and suffers from it; for `lithium_days`, where only its reserve does.',
  },
  advice: 'Use less, or charge it fully from another source.',
  explainedBy: [{ by: 'battery-low' }, { by: 'array-dark' }],
  quietWhenLearning: true,
  prepare: (prepared): Watch => ({
    look: (view) => look(view, prepared),
    words: (telling) => words(telling, prepared),
  }),
})
