import type { SagFacts } from '../../model/facts-power.js'
import { defineAlarm, holding, type Prepared, QUIET, type Telling, type View, type Watch } from '../definition.js'
import { evidence, evidenceList, type Phrase } from '../phrase.js'
import { CAUTION_BATTERY, toCutOff } from './common.js'

const BATTERY = 'battery'
/** Once told it ends below this share of the way from the usual to the limit. */
const BACK_SHARE = 0.6

function look(view: View, { numbers }: Prepared<'battery-sag'>) {
  const { sag } = view.facts.power
  if (sag === null) return QUIET
  const { value, sd } = sag.usual
  const active = view.isActive('battery-sag', BATTERY)
  const limit = value * (1 + (numbers.growth * sag.doubt - 1) * (active ? BACK_SHARE : 1))
  if (sag.ohm < limit) return QUIET
  if (!active && sag.ohm - value < numbers.spreads * Math.max(sag.sdOhm, 0.67 * sd)) return QUIET
  return [holding(BATTERY, sag.since, sag.temperatureFrom === null ? 'grown-or-cold' : 'grown', numbersSeen(view, sag))]
}

function numbersSeen({ facts }: View, sag: SagFacts) {
  const pumpA = facts.pump.usualA?.value ?? null
  return evidenceList(
    evidence(
      'Drop at a start of the pump',
      'voltage',
      pumpA === null ? null : pumpA * sag.ohm,
      pumpA === null ? null : pumpA * sag.usual.value,
    ),
    evidence('Drop per ampere over its usual', 'ratio', sag.ohm / sag.usual.value, 1),
    evidence('Starts that the usual rests on', 'count', sag.usual.starts),
    evidence('Battery temperature', 'temperature', sag.temperatureFrom === 'battery' ? sag.temperatureC : null),
  )
}

const milliohms = (ohm: number): string => `${(ohm * 1000).toFixed(ohm < 0.0995 ? 1 : 0)} mΩ`

function words({ view, verdict, since, say }: Telling) {
  const { sag, cutOff } = view.facts.power
  const figure =
    sag === null
      ? ''
      : ` ${milliohms(sag.ohm)} ± ${milliohms(sag.sdOhm)} at 20 °C, median of the last three (usually ${milliohms(sag.usual.value)} ± ${milliohms(sag.usual.sd)}).`
  const unsure = verdict.cause === 'grown-or-cold'
  return {
    title: 'Battery voltage drops further at pump starts',
    what: `Since ${say.time(since)} the battery's voltage has dropped more for each ampere when the pump starts:${figure}${drop(view, say)}${compared(sag)}`,
    causes: [
      'A joint, clamp or fuse holder between battery and pump that is loose or corroded: the cheapest to mend, so look there first.',
      'A cell that is ageing or failing; a lead-acid one may only want water or a full charge.',
      unsure
        ? 'Cold: no thermometer at the battery tells it apart. If the nights have just become cold, wait for a mild day.'
        : 'Cold beyond what was allowed for: at −10 °C a lithium battery has about twice the resistance that it has at 20 °C.',
    ],
    action:
      'With load and array disconnected, tighten and clean every joint from battery to pump; feel for warmth only then. If the drop stays, measure each cell or block at rest and under load. Afterwards start a new baseline by an entry in the journal.',
    ifIgnored:
      'The voltage under load reaches its cut-off with charge still in the battery, first on cold mornings; a bad joint grows hot and can burn.',
    caution: CAUTION_BATTERY,
    timeLeft: toCutOff(cutOff, say),
  }
}

function drop({ facts }: View, say: Phrase): string {
  const { sag } = facts.power
  const pumpA = facts.pump.usualA?.value ?? null
  if (sag === null || pumpA === null) return ''
  const now = say.besideUsual('voltage', pumpA * sag.ohm, pumpA * sag.usual.value)
  return ` With ${say.quantity('current', pumpA)} that is ${now}.`
}

function compared(sag: SagFacts | null): string {
  if (sag === null) return ''
  if (sag.temperatureFrom === 'battery') return ' Compared at like battery temperature.'
  if (sag.temperatureFrom === 'air') return " Brought to one temperature by the air's, not the battery's own."
  return ' No temperature is measured: the season is allowed for by a wider limit.'
}

export const batterySag = defineAlarm({
  id: 'battery-sag',
  meaning:
    "The voltage drop per ampere at the pump's starts, brought to 20 °C, has grown well past what this site's own starts show.",
  toldWithin: 'the third start, of those at which the battery rather than a charger feeds the pump',
  needs:
    '`battery-voltage`, `pump-current`, five starts to learn from; `battery-current` and `battery-temperature` make it surer',
  causes: {
    grown: 'The median of the last three starts is far above the usual, at like temperature.',
    'grown-or-cold': 'The same where no temperature is measured: beyond what the season explains.',
  },
  advice: 'Joints first, then cells. Start a new baseline in the journal once it is mended.',
  explainedBy: [{ by: 'battery-low' }],
  quietWhenLearning: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
