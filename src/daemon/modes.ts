/** What holds at a place now: said by people on the page, by the `occupied` signal, by the calendar, by default. */
import type { Modes } from '../model/modes.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { ModeOverrides } from '../record/modes.js'

export function modesAt(site: SiteSettings, said: ModeOverrides, occupied: boolean | null, at: Ms): Modes {
  return {
    away: said.away ?? awayBy(site, occupied, at),
    winterized: said.winterized ?? site.season.winterized,
    maintenanceUntil: said.maintenanceUntil !== null && said.maintenanceUntil > at ? said.maintenanceUntil : null,
  }
}

function awayBy(site: SiteSettings, occupied: boolean | null, at: Ms): boolean {
  if (occupied !== null) return !occupied
  // The calendar lists what differs from the usual: absences from a home, visits to a place that mostly stands empty.
  const listed = site.away.calendar.some(([from, to]) => at >= from && at < to)
  return (site.away.usual === 'away') !== listed
}
