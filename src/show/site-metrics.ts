/** Gauges of every site, for whoever collects them. What is not known has no point: a gap there, not a 0. */
import { ALARM_IDS } from '../model/alarm.js'
import type { MetricFamily, ShowSource } from './source.js'

type Point = MetricFamily['points'][number]

function gauge(name: string, unit: string | null, help: string, points: readonly (Point | null)[]): MetricFamily {
  const known = points.filter((point) => point !== null)
  return { name, type: 'gauge', help, ...(unit === null ? {} : { unit }), points: known }
}

function point(site: string, value: number | null | undefined): Point | null {
  return value === null || value === undefined || !Number.isFinite(value) ? null : { labels: { site }, value }
}

function flag(value: boolean): number {
  return value ? 1 : 0
}

/** One look at every site. Volumes in cubic metres: OpenMetrics asks for base units. */
export function siteMetrics(source: ShowSource): MetricFamily[] {
  const sites = source.sites().map(({ id }) => ({ id, facts: source.state(id).facts, alarms: source.activeAlarms(id) }))
  const boards = sites.flatMap(({ id, facts }) =>
    (facts?.boards ?? []).map((board) => ({ site: id, board: board.id, lastHeard: board.lastHeard })),
  )
  return [
    gauge(
      'sightglass_tank_level_meters',
      'meters',
      'Water above the floor of the tank.',
      sites.map(({ id, facts }) => point(id, facts?.water.levelM)),
    ),
    gauge(
      'sightglass_tank_volume_cubic_meters',
      'cubic_meters',
      'Water in the tank.',
      sites.map(({ id, facts }) => {
        const volumeL = facts?.water.volumeL ?? null
        return point(id, volumeL === null ? null : volumeL / 1000)
      }),
    ),
    gauge(
      'sightglass_pump_running',
      null,
      '1 while the well pump runs.',
      sites.map(({ id, facts }) => point(id, facts?.pump.known === true ? flag(facts.pump.running) : null)),
    ),
    gauge(
      'sightglass_pump_current_amperes',
      'amperes',
      'Current of the well pump.',
      sites.map(({ id, facts }) => point(id, facts?.pump.currentA)),
    ),
    gauge(
      'sightglass_battery_volts',
      'volts',
      'Voltage of the battery.',
      sites.map(({ id, facts }) => point(id, facts?.battery.voltageV)),
    ),
    gauge(
      'sightglass_board_last_heard_timestamp_seconds',
      'seconds',
      'Time of the latest sample of a board.',
      boards.map(({ site, board, lastHeard }) =>
        lastHeard === null ? null : { labels: { site, board }, value: lastHeard / 1000 },
      ),
    ),
    {
      name: 'sightglass_alarm_active',
      type: 'stateset',
      help: 'Alarms that are active.',
      points: sites.flatMap(({ id, alarms }) =>
        ALARM_IDS.map((alarm) => ({
          labels: { site: id, sightglass_alarm_active: alarm },
          value: flag(alarms.some((one) => one.id === alarm && one.cleared === null)),
        })),
      ),
    },
  ]
}
