/** A pump whose rotor is held, told by its board with times of the last quarter of an hour: the alarm is due at once. */
import type { Tree } from '../support/example-config.js'
import type { TestBoard } from './board.js'

const STEP_MS = 10_000
const MINUTE = 60_000

/** As little of a site as `pump-stalled` needs. */
export function stallSite(id: string): Tree {
  return {
    site: { id, name: `Site ${id}`, timezone: 'UTC' },
    boards: {
      'pump-board': {
        expect_every: '15 s',
        signals: { 'pump-current': {}, 'tank-level': {}, 'battery-voltage': {} },
      },
    },
    tank: {
      shape: { 'upright-cylinder': { diameter: '1.24 m', height: '1.8 m' } },
      low_mark: '0.9 m',
      high_mark: '1.07 m',
      reserve: '400 l',
    },
    pump: { nominal_voltage: '24 V', running_current: '3 A' },
    battery: { chemistry: 'lifepo4', nominal_voltage: '24 V', capacity: '100 Ah' },
  }
}

/**
 * Readings every 10 s of the last 14 minutes; the rotor is held between `heldFor` (minutes back, from and to). A few
 * messages, each with a minute of readings, as a board sends that had no link.
 */
export function offerStall(board: TestBoard, now: number, [from, to]: readonly [number, number]): void {
  const start = now - (now % STEP_MS) - 14 * MINUTE
  for (let minute = start; minute < now; minute += MINUTE) {
    const records = []
    for (let t = minute; t < Math.min(now, minute + MINUTE); t += STEP_MS) {
      const held = t >= now - from * MINUTE && t < now - to * MINUTE
      records.push(
        { key: 'pump-current', t, value: held ? 9 : 0, unit: 'A' },
        { key: 'tank-level', t, value: 0.95, unit: 'm' },
        { key: 'battery-voltage', t, value: held ? 25.4 : 26.2, unit: 'V' },
      )
    }
    board.offerPack(records)
  }
}
