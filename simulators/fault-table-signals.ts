/** The faults of sensors, boards and links; the place itself is well. Second half of the table of faults. */
import type { FaultSpec } from './fault-spec.js'
import { SITE_IDS } from './plan.js'

export const BENCH_FAULTS = {
  'board-silent': {
    words: 'one board stops sending while the other talks',
    expects: 'board-silent',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'the tank board for 45 min', lastsH: 0.75, set: { deadBoard: 'tank-board' } },
      middle: { words: 'the tank board for good', lastsH: null, set: { deadBoard: 'tank-board' } },
      strong: { words: 'the pump board for good', lastsH: null, set: { deadBoard: 'pump-board' } },
    },
  },
  'site-silent': {
    words: 'nothing from the whole place',
    expects: 'site-silent',
    sites: SITE_IDS,
    levels: {
      mild: {
        words: 'the link is down for 40 min, the boards keep what they measured',
        lastsH: 0.667,
        set: { linkDown: true },
      },
      middle: { words: 'the link is down for 10 h', lastsH: 10, set: { linkDown: true } },
      strong: { words: 'all boards dark for 2 days, nothing is kept', lastsH: 48, set: { deadBoard: 'all' } },
    },
  },
  'backlog-shuffled': {
    words: 'a link outage, and a backlog that comes out of order',
    expects: null,
    sites: SITE_IDS,
    levels: {
      mild: { words: '12 min, within a minute', lastsH: 0.2, set: { linkDown: true, shuffleS: 60 } },
      middle: { words: '2 h, within 30 min', lastsH: 2, set: { linkDown: true, shuffleS: 1_800 } },
      strong: { words: '10 h, all mixed', lastsH: 10, set: { linkDown: true, shuffleS: 86_400 } },
    },
  },
  'probe-fouled': {
    words: 'the low contact reads dry though the high one is wet',
    expects: 'sensor-suspect',
    sites: ['fern'],
    levels: {
      mild: { words: 'half of the time', lastsH: null, set: { lowProbe: 'flickers' } },
      middle: { words: 'always', lastsH: null, set: { lowProbe: 'dry' } },
      strong: {
        words: 'and the high contact is bridged wet',
        lastsH: null,
        set: { lowProbe: 'dry', highProbe: 'wet' },
      },
    },
  },
  'contact-chatter': {
    words: 'high waves at the contacts',
    expects: null,
    sites: ['fern'],
    levels: {
      mild: { words: '3 mm', lastsH: 24, set: { waveShare: 10 } },
      middle: { words: '9 mm', lastsH: 24, set: { waveShare: 30 } },
      strong: { words: '24 mm', lastsH: 24, set: { waveShare: 80 } },
    },
  },
  'level-stuck': {
    words: 'the level sensor repeats one value',
    expects: 'sensor-suspect',
    sites: ['juniper'],
    levels: {
      mild: { words: 'for a day', lastsH: 24, set: { levelStuck: true } },
      middle: { words: 'for 3 days', lastsH: 72, set: { levelStuck: true } },
      strong: { words: 'for good', lastsH: null, set: { levelStuck: true } },
    },
  },
  'level-failed': {
    words: 'the level sensor says that it has failed',
    expects: 'sensor-suspect',
    sites: ['juniper'],
    levels: {
      mild: { words: 'three of four readings are full scale', lastsH: null, set: { levelFailShare: 0.75 } },
      middle: { words: 'full scale only', lastsH: null, set: { levelFailShare: 1 } },
      strong: { words: 'no number at all', lastsH: null, set: { levelFailShare: 1, levelFails: 'nan' } },
    },
  },
  'level-spikes': {
    words: 'single readings of the level jump',
    expects: null,
    sites: ['juniper'],
    levels: {
      mild: { words: 'one in 50', lastsH: null, set: { levelFailShare: 0.02, levelFails: 'spike' } },
      middle: { words: 'one in 20', lastsH: null, set: { levelFailShare: 0.05, levelFails: 'spike' } },
      strong: { words: 'one in 8', lastsH: null, set: { levelFailShare: 0.125, levelFails: 'spike' } },
    },
  },
  'unit-slip': {
    words: 'the level comes in another unit after new firmware',
    expects: 'sensor-suspect',
    sites: ['juniper'],
    levels: {
      mild: { words: 'centimetres, named so', lastsH: 24, set: { levelUnit: 'cm' } },
      middle: { words: 'centimetres without a unit', lastsH: 24, set: { levelUnit: 'none' } },
      strong: { words: 'centimetres without a unit, for good', lastsH: null, set: { levelUnit: 'none' } },
    },
  },
  'thermometer-failed': {
    words: 'the line thermometer sends its failure values',
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'one reading in 20 is 85', lastsH: null, set: { thermometerFailShare: 0.05 } },
      middle: { words: 'always −127', lastsH: null, set: { thermometerFailShare: 1, thermometerSays: -127 } },
      strong: {
        words: '−127 in a frost',
        lastsH: null,
        set: { thermometerFailShare: 1, thermometerSays: -127, airMassC: -4, cloud: 0.1 },
      },
    },
  },
  'bad-payloads': {
    words: 'messages that cannot be read: cut off, not a number, empty, other units, noise',
    expects: null,
    sites: SITE_IDS,
    levels: {
      mild: { words: 'one in 100', lastsH: null, set: { spoiltShare: 0.01 } },
      middle: { words: 'one in 8', lastsH: null, set: { spoiltShare: 0.125 } },
      strong: { words: 'all of the tank board', lastsH: null, set: { spoiltShare: 1, spoiltBoard: 'tank-board' } },
    },
  },
  'repeated-deliveries': {
    words: 'the same message delivered again',
    expects: null,
    sites: SITE_IDS,
    levels: {
      mild: { words: 'one in 20', lastsH: null, set: { repeatShare: 0.05, repeatLateS: 2 } },
      middle: { words: 'each twice', lastsH: null, set: { repeatShare: 1, repeatLateS: 2 } },
      strong: {
        words: 'each four times within 10 min',
        lastsH: null,
        set: { repeatShare: 1, repeatCopies: 3, repeatLateS: 600 },
      },
    },
  },
  'clock-unset': {
    words: 'a board has lost its clock',
    expects: 'clock-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: '1970, for 2 h after a restart', lastsH: 2, set: { clock: 'unset' } },
      middle: {
        words: '2036-02-07, an empty answer of the time service, for a day',
        lastsH: 24,
        set: { clock: 'empty-reply' },
      },
      strong: { words: 'nine days ahead', lastsH: null, set: { clock: 'ahead' } },
    },
  },
  'board-browns-out': {
    words: "the supply of the pump's board dips at each start of the pump and it begins anew",
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'away for 20 s', lastsH: null, set: { brownOutS: 20 } },
      middle: { words: 'away for 40 s', lastsH: null, set: { brownOutS: 40 } },
      strong: { words: 'away for 90 s', lastsH: null, set: { brownOutS: 90 } },
    },
  },
  'current-dead': {
    words: 'the current sensor gives its zero while the pump runs',
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'for a day', lastsH: 24, set: { currentDead: true } },
      middle: { words: 'for 3 days', lastsH: 72, set: { currentDead: true } },
      strong: { words: 'for good', lastsH: null, set: { currentDead: true } },
    },
  },
  'voltage-dead': {
    words: 'the voltage sensor has come off: 0 V from a board that lives',
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'for 2 h', lastsH: 2, set: { voltageDead: true } },
      middle: { words: 'for a day', lastsH: 24, set: { voltageDead: true } },
      strong: { words: 'for good', lastsH: null, set: { voltageDead: true } },
    },
  },
  'current-drift': {
    words: 'the zero of the current sensor wanders',
    expects: null,
    sites: SITE_IDS,
    levels: {
      mild: { words: '0.15 A within 20 h', lastsH: null, rampH: 20, set: { currentZeroA: 0.15 } },
      middle: { words: '0.35 A within 3 h', lastsH: null, rampH: 3, set: { currentZeroA: 0.35 } },
      strong: { words: '0.6 A at once', lastsH: null, set: { currentZeroA: 0.6 } },
    },
  },
} as const satisfies Record<string, FaultSpec>
