/** One line for a fill and one for an alarm, as the demo prints them. */
import type { Notice } from '../model/alarm.js'
import type { FillCycle } from '../model/fill.js'
import { formatDuration, formatLocalTime, formatQuantity } from '../model/format.js'
import type { SiteSettings } from '../model/settings.js'
import { SECOND } from '../model/time.js'

const ENDS: Record<FillCycle['endReason'], string> = {
  full: 'stopped at the high mark',
  'power-lost': 'the battery gave out',
  dry: 'the well ran dry',
  stalled: 'the pump stalled',
  manual: 'stopped between the marks',
  unknown: 'its end was not seen',
}

export function fillLine(site: SiteSettings, cycle: FillCycle): string {
  const { units, timezone } = site
  const volume = cycle.volumeL === null ? 'volume not known' : formatQuantity('volume', cycle.volumeL.value, units)
  const energy = cycle.energyWh === null ? 'energy not known' : formatQuantity('energy', cycle.energyWh.value, units)
  const per = cycle.whPerL === null ? '' : `, ${formatQuantity('energy-per-volume', cycle.whPerL.value, units)}`
  const length = formatDuration(cycle.durationS * SECOND)
  return `fill   ${formatLocalTime(cycle.start, timezone)}  ${length}, ${volume}, ${energy}${per}; ${ENDS[cycle.endReason]}`
}

const SAID: Record<Notice['reason'], string> = {
  raised: 'ALARM',
  cleared: 'clear',
  worsened: 'WORSE',
  'on-and-off': 'ALARM',
  reminder: 'still',
}

export function noticeLine(site: SiteSettings, notice: Notice): string {
  const { alarm } = notice
  const when = formatLocalTime(notice.at, site.timezone)
  return `${SAID[notice.reason]}  ${when}  ${alarm.priority}  ${alarm.words.title}: ${alarm.words.what}`
}
