/** What no single value can show: contradictions (errors) and what is legal but unwise (warnings), of one site. */
import type { SignalSettings } from '../model/settings.js'
import type { SiteDraft } from './build-site.js'
import { error, type Issue, type Path, shown, warning } from './finding.js'
import { tankHeightM, tankVolumeL } from './tank-volume.js'

/** Every check of one site. Parts that could not be read are left out of it. */
export function checkSite(site: SiteDraft): Issue[] {
  return [
    ...checkTank(site),
    ...checkSignals(site),
    ...checkLeastSet(site),
    ...checkBattery(site),
    ...checkPlace(site),
    ...checkLines(site),
    ...checkTelling(site),
  ]
}

const signalsOf = (site: SiteDraft): SignalSettings[] => site.boards?.flatMap((board) => [...board.signals]) ?? []

function has(site: SiteDraft, ...keys: string[]): boolean {
  return signalsOf(site).some((signal) => keys.includes(signal.role))
}

/** Small pumps of this kind give 3–5 l/min at 30–45 m (common practice). */
const ORDINARY_FLOW_L_MIN = 4

const litres = (value: number): string => `${Math.round(value)} l`
const metres = (value: number): string => `${Number(value.toFixed(3))} m`

function checkTank(site: SiteDraft): Issue[] {
  const { tank } = site
  if (tank === undefined || tank === null) return []
  const issues: Issue[] = []
  const top = tankHeightM(tank.shape)
  const { lowMarkM, highMarkM, fullM, reserveL } = tank
  if (lowMarkM >= highMarkM) {
    const found = `low_mark ${metres(lowMarkM)}, high_mark ${metres(highMarkM)}`
    issues.push(error(['tank', 'low_mark'], 'must be below high_mark', { found }))
  }
  if (highMarkM > fullM) {
    const found = `high_mark ${metres(highMarkM)}, full ${metres(fullM)}`
    issues.push(warning(['tank', 'high_mark'], 'is above full: the tank overflows before a fill stops', { found }))
  }
  if (fullM > top) {
    const words = { found: metres(fullM), expected: `at most ${metres(top)}` }
    issues.push(warning(['tank', 'full'], 'is above the top of the tank', words))
  }
  const bandL = tankVolumeL(tank.shape, highMarkM) - tankVolumeL(tank.shape, lowMarkM)
  const needS = (bandL / ORDINARY_FLOW_L_MIN) * 60
  if (site.pump !== undefined && bandL > 0 && needS > site.pump.longestFillS) {
    const found = `${Math.round(site.pump.longestFillS / 60)} min`
    const expected = `more than ${Math.round(needS / 60)} min: ${litres(bandL)} from low_mark to high_mark at ${ORDINARY_FLOW_L_MIN} l/min`
    issues.push(warning(['pump', 'longest_fill'], 'is shorter than an ordinary fill', { found, expected }))
  }
  if (reserveL === null) {
    const expected = 'reserve: a volume such as "60 gal"; without it tank-low is never told'
    issues.push(warning(['tank'], 'has no reserve', { expected, at: 'key' }))
  } else if (reserveL >= tankVolumeL(tank.shape, lowMarkM)) {
    const words = { found: litres(reserveL), expected: `less than ${litres(tankVolumeL(tank.shape, lowMarkM))}` }
    issues.push(
      warning(['tank', 'reserve'], 'is reached before a fill is called for, so every cycle would alarm', words),
    )
  }
  return issues
}

function checkSignals(site: SiteDraft): Issue[] {
  const issues: Issue[] = []
  const seen = new Map<string, string>()
  for (const board of site.boards ?? []) {
    const names = new Set<string>()
    for (const signal of board.signals) {
      const path: Path = ['boards', board.id, 'signals', signal.key]
      const other = seen.get(signal.key)
      if (other !== undefined) {
        const hint = `call one of them ${signal.key}.${board.id}`
        issues.push(
          error(path, `is sent by board ${other} too`, { expected: 'each signal once in a site', hint, at: 'key' }),
        )
      }
      seen.set(signal.key, board.id)
      if (signal.decode !== 'senml') continue
      if (names.has(signal.name)) {
        const expected = 'each name once on a board'
        const hint = 'say with name: what this board calls it'
        issues.push(error(path, 'has the name of another signal', { found: shown(signal.name), expected, hint }))
      }
      names.add(signal.name)
    }
    if (board.signals.length === 0) {
      issues.push(warning(['boards', board.id], 'has no signals: nothing it sends is understood', { at: 'key' }))
    }
  }
  return issues
}

/** Alarms within a minute need samples within a minute; five intervals must fit the contract's five minutes. */
const SLOWEST_PUMP_BOARD_S = 60

function checkLeastSet(site: SiteDraft): Issue[] {
  if (site.boards === undefined) return []
  const issues: Issue[] = []
  const missing = (what: string, lost: string): void => {
    issues.push(
      warning(['boards'], `have no ${what}`, {
        expected: `one of the signals ${what}`,
        hint: `missing then: ${lost}`,
        at: 'key',
      }),
    )
  }
  if (!has(site, 'pump-current')) missing('pump-current', 'fills, energy, and every alarm about the pump')
  if (!has(site, 'tank-level') && !(has(site, 'tank-probe-low') && has(site, 'tank-probe-high'))) {
    missing('tank-level or tank-probe-low and tank-probe-high', 'volumes, leak, overfill, tank-low, pump-no-start')
  }
  if (!has(site, 'battery-voltage', 'pump-voltage')) {
    missing('battery-voltage or pump-voltage', 'energy per volume, battery-low, battery-sag')
  }
  if (has(site, 'tank-level', 'tank-probe-low') && site.tank === null) {
    const expected = 'a section tank with shape, low_mark and high_mark'
    issues.push(warning(['tank'], 'is missing, so no level can be told as a volume', { expected, at: 'key' }))
  }
  for (const board of site.boards) {
    if (!board.signals.some((signal) => signal.role === 'pump-current')) continue
    if (board.expectEveryS <= SLOWEST_PUMP_BOARD_S) continue
    const words = { found: `${board.expectEveryS} s`, expected: `at most ${SLOWEST_PUMP_BOARD_S} s` }
    const message = 'is too slow for a stalled pump to be told within a minute'
    issues.push(warning(['boards', board.id, 'expect_every'], message, words))
  }
  return issues
}

/** Share of the rated charge that may be drawn: lithium 80 %, lead-acid 50 % (common practice). */
const USABLE = { lifepo4: 0.8, flooded: 0.5, agm: 0.5, gel: 0.5 } as const

function checkBattery(site: SiteDraft): Issue[] {
  const { battery, pump } = site
  if (battery === undefined) return []
  const issues: Issue[] = []
  if (battery === null) {
    if (has(site, 'battery-voltage')) {
      const expected = 'a section battery with chemistry and nominal_voltage'
      issues.push(warning(['battery'], 'is missing, so what its voltage means is not known', { expected, at: 'key' }))
    }
    return issues
  }
  if (pump !== undefined && pump.runningCurrentA !== null && battery.capacityAh !== null) {
    const ratio = (pump.nominalVoltageV ?? battery.nominalVoltageV) / battery.nominalVoltageV
    const hours = (battery.capacityAh * USABLE[battery.chemistry]) / (pump.runningCurrentA * ratio)
    if (hours <= 1) {
      const found = `${battery.capacityAh} Ah, usable ${Math.round(USABLE[battery.chemistry] * 100)} %`
      const expected = `more than an hour of pumping at ${pump.runningCurrentA} A; it lasts ${Math.round(hours * 60)} min`
      issues.push(warning(['battery', 'capacity'], 'is emptied by the pump within an hour', { found, expected }))
    }
  }
  if (pump?.nominalVoltageV != null && pump.nominalVoltageV !== battery.nominalVoltageV) {
    const found = `pump ${pump.nominalVoltageV} V, battery ${battery.nominalVoltageV} V`
    const hint = 'right only with a converter between them; then send pump-voltage too'
    if (!has(site, 'pump-voltage'))
      issues.push(warning(['pump', 'nominal_voltage'], "is not the battery's", { found, hint }))
  }
  if (battery.chemistry === 'lifepo4' && site.boards !== undefined && !has(site, 'battery-temperature')) {
    const expected = 'the signal battery-temperature; without it battery-cold-charge cannot be told'
    issues.push(warning(['battery', 'chemistry'], 'must not be charged below 0 °C', { found: 'lifepo4', expected }))
  }
  return issues
}

function checkPlace(site: SiteDraft): Issue[] {
  if (site.id === undefined) return []
  const lat = site.latitudeDeg ?? null
  const lon = site.longitudeDeg ?? null
  if ((lat === null) !== (lon === null)) {
    const expected = 'latitude and longitude together'
    return [warning(['site'], 'has only one of its coordinates', { expected, at: 'key' })]
  }
  if (lat !== null) return []
  if (site.array === undefined || site.array === null) return []
  const expected = 'latitude and longitude; without them array-dark and sizing do not know when the sun is up'
  return [warning(['site'], 'has an array but no place', { expected, at: 'key' })]
}

function checkLines(site: SiteDraft): Issue[] {
  if (site.boards === undefined) return []
  const airless = !has(site, 'air-temperature')
  return (site.lines ?? []).flatMap((line, index) => {
    if (line.temperatureKey !== null || !airless || line.kind === 'buried') return []
    const expected = 'temperature_role here, or the signal air-temperature'
    return [warning(['lines', index], 'cannot be watched for frost', { found: shown(line.name), expected })]
  })
}

function checkTelling(site: SiteDraft): Issue[] {
  const issues: Issue[] = []
  for (const [id, alarm] of Object.entries(site.alarms ?? {})) {
    if (alarm.enabled !== false) continue
    issues.push(
      warning(['alarms', id, 'enabled'], 'turns this alarm off for good', { found: 'false', expected: 'true' }),
    )
  }
  if (site.tell !== undefined && !site.tell.people.some((person) => person.ways.length > 0)) {
    const expected = 'tell.people with at least one person and one way'
    issues.push(warning(['tell'], 'nobody would be told of anything', { expected, at: 'key' }))
  }
  return issues
}
