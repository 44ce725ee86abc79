/** The well's own rows, where its level is measured. */
import type { NowBody } from '../bodies/now.js'
import type { People } from './people.js'

const M_PER_FT = 0.3048

export function wellRows(now: NowBody, people: People): (readonly [string, string])[] {
  const { well } = now
  if (well === null) return []
  const us = now.site.units === 'us'
  const each = (capacity: number): string => people.say('flow', us ? capacity * M_PER_FT : capacity)
  const rows: (readonly [string, string])[] = []
  if (well.drawdown_m !== null) rows.push(['Drawn down', people.say('length', well.drawdown_m)])
  if (well.capacity_l_min_m !== null) {
    const usual = well.usual_capacity_l_min_m === null ? '' : ` (usual ${each(well.usual_capacity_l_min_m)})`
    const by = us ? 'foot' : 'metre'
    rows.push(['Well gives', `${each(well.capacity_l_min_m)} for each ${by} of drawdown after 10 min${usual}`])
  }
  if (well.recovered !== null)
    rows.push(['Well recovers', `${people.say('ratio', well.recovered)} within 10 min of the stop`])
  return rows
}
