import { SECOND } from '../../model/time.js'
import {
  defineAlarm,
  holding,
  type Prepared,
  QUIET,
  type Telling,
  type Verdict,
  type View,
  type Watch,
} from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'
import { silentSince } from '../outages.js'
import { waterLeft } from './common.js'

const SITE = 'site'
/** The last voltages were near the cut-off: the power is the likelier cause. */
const NEAR_CUT_OFF = 1.03

function look(view: View, { numbers }: Prepared<'site-silent'>): readonly Verdict[] {
  const { facts } = view
  const from = silentSince(facts, view.daemon)
  // Who talks, though not to be understood, is not silent: that is told of each board.
  if (from === null || view.daemon.unreadable.length > 0) return QUIET
  const usualS = (numbers.outage_factor * view.longestOutageMs) / SECOND
  const limitS = Math.min(numbers.at_most, Math.max(numbers.at_least, usualS))
  if (view.at - from < limitS * SECOND) return QUIET
  return [
    holding(
      SITE,
      from,
      batteryWasLow(view) ? 'power' : 'link-or-power',
      evidenceList(
        evidence('Silent for', 'duration', (view.at - from) / SECOND),
        evidence(
          'Longest outage in 30 days',
          'duration',
          view.longestOutageMs > 0 ? view.longestOutageMs / SECOND : null,
        ),
        evidence('Lowest battery voltage before', 'voltage', facts.battery.lowest30MinV),
      ),
    ),
  ]
}

function batteryWasLow({ facts }: View): boolean {
  const { lowSince, lowest30MinV, cutOffV } = facts.battery
  if (lowSince !== null) return true
  return lowest30MinV !== null && cutOffV !== null && lowest30MinV <= cutOffV * NEAR_CUT_OFF
}

function words({ view, verdict, since, say }: Telling) {
  const { battery, boards } = view.facts
  const { longestOutageMs } = view
  const last = battery.lowest30MinV === null ? 'not known' : say.quantity('voltage', battery.lowest30MinV)
  const usual = longestOutageMs > 0 ? ` (its longest outage of late: ${say.span(longestOutageMs)})` : ''
  const link = 'The link between the site and this program: radio, router, telephone network.'
  const power = 'The power of the site, or of its router or radio: a battery cut-off, a fuse.'
  return {
    title: 'Nothing heard from the whole site',
    what: `None of the ${boards.length} boards has been heard since ${say.time(since)}, ${say.span(view.at - since)}${usual}. The last battery voltage before: ${last}.`,
    causes: verdict.cause === 'power' ? [power, link] : [link, power],
    action:
      'See whether anything else at the place can be reached; if the battery was low, expect it back with the sun.',
    ifIgnored:
      'Nothing at the place is watched until it is heard again: no alarm of pump, tank, battery or frost can come.',
    caution: null,
    timeLeft: waterLeft(view.facts, say),
  }
}

export const siteSilent = defineAlarm({
  id: 'site-silent',
  meaning: 'Nothing from any board, by the age of data alone.',
  toldWithin: '15 min, or twice the longest outage that healed itself in the last 30 days where that is more',
  needs: 'one board that has been heard once',
  causes: {
    'link-or-power': 'Link or power: the data do not tell which.',
    power: 'The battery was near its cut-off before: probably the power.',
  },
  advice: 'See whether anything else at the place can be reached.',
  explainedBy: [{ by: 'battery-low' }, { by: 'store-failing' }],
  quietInMaintenance: false,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
