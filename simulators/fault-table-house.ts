/** Faults of the house's pressure pump, and further ones of boards and their units. Third part of the table of faults. */
import type { FaultSpec } from './fault-spec.js'
import { SITE_IDS } from './plan.js'

export const HOUSE_FAULTS = {
  'accumulator-waterlogged': {
    words: 'the air of the accumulator is gone: during use the pump starts and stops again and again',
    expects: 'house-pump-cycling',
    sites: ['juniper'],
    levels: {
      mild: {
        words: 'a quarter of its air is left: 1.8 l from stop to start',
        lastsH: null,
        set: { houseAirShare: 0.25 },
      },
      middle: { words: 'an eighth: 0.9 l', lastsH: null, set: { houseAirShare: 0.12 } },
      strong: { words: 'a twentieth: 0.4 l', lastsH: null, set: { houseAirShare: 0.05 } },
    },
  },
  'house-drip': {
    words: 'water goes while nobody draws: the pressure pump starts like clockwork',
    expects: 'house-pump-cycling',
    sites: ['juniper'],
    levels: {
      mild: { words: 'a leak in the house, 11 l/h: a start every 40 min', lastsH: null, set: { houseLeakLH: 11.2 } },
      middle: { words: 'a check valve, 60 l/h: every 8 min', lastsH: null, set: { houseBackLH: 60 } },
      strong: {
        words: 'a check valve, 100 l/h, and half of the air gone: every 2 to 3 min',
        lastsH: null,
        set: { houseBackLH: 100, houseAirShare: 0.5 },
      },
    },
  },
  'house-pump-runs-on': {
    words: 'the pressure pump never stops',
    expects: 'house-pump-cycling',
    sites: ['juniper'],
    levels: {
      mild: { words: 'a pipe after it bursts, 20 l/min for 3 h', lastsH: 3, set: { houseBurstLMin: 20 } },
      middle: { words: 'it gets air instead of water', lastsH: null, set: { houseDry: true } },
      strong: { words: 'its pressure switch has welded', lastsH: null, set: { houseSwitchStuck: true } },
    },
  },
  'board-restarts': {
    words: "the pump's board begins anew over and over",
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'away for 25 s in each 4 min', lastsH: null, set: { restartEveryS: 240, restartForS: 25 } },
      middle: { words: 'away for 40 s in each 2 min', lastsH: null, set: { restartEveryS: 120, restartForS: 40 } },
      strong: { words: 'away for 60 s in each 90 s', lastsH: null, set: { restartEveryS: 90, restartForS: 60 } },
    },
  },
  'board-garbled': {
    words: 'a board talks, and every message of it is cut off',
    expects: 'board-silent',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'the tank board for 3 h', lastsH: 3, set: { garbledBoard: 'tank-board' } },
      middle: { words: 'the tank board for good', lastsH: null, set: { garbledBoard: 'tank-board' } },
      strong: { words: 'the pump board for good', lastsH: null, set: { garbledBoard: 'pump-board' } },
    },
  },
  'voltage-unit-slip': {
    words: 'the battery voltage comes on another scale after new firmware',
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'half of it, for a day', lastsH: 24, set: { voltageScale: 0.5 } },
      middle: { words: 'millivolts without a unit', lastsH: null, set: { voltageScale: 1_000 } },
      strong: { words: 'twice as much', lastsH: null, set: { voltageScale: 2 } },
    },
  },
  'level-unit-slip': {
    words: 'the level comes on another scale after new firmware',
    expects: 'sensor-suspect',
    sites: ['juniper'],
    levels: {
      mild: {
        words: 'metres multiplied as if they were feet (0.3048), for a day',
        lastsH: 24,
        set: { levelScale: 0.3048 },
      },
      middle: { words: 'feet without a unit (3.28)', lastsH: null, set: { levelScale: 3.28084 } },
      strong: { words: 'divided by 2.54', lastsH: null, set: { levelScale: 1 / 2.54 } },
    },
  },
  'temperature-unit-slip': {
    words: 'degrees Fahrenheit where Celsius is expected',
    expects: 'sensor-suspect',
    sites: ['juniper'],
    levels: {
      mild: { words: 'of the air, for a day', lastsH: 24, set: { airFahrenheit: true } },
      middle: { words: 'of the line', lastsH: null, set: { lineFahrenheit: true } },
      strong: { words: 'of both', lastsH: null, set: { airFahrenheit: true, lineFahrenheit: true } },
    },
  },
  'voltage-stuck': {
    words: 'the battery voltage repeats one value',
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'for a day and a half', lastsH: 36, set: { voltageStuck: true } },
      middle: { words: 'for three days', lastsH: 72, set: { voltageStuck: true } },
      strong: { words: 'for good', lastsH: null, set: { voltageStuck: true } },
    },
  },
} as const satisfies Record<string, FaultSpec>
