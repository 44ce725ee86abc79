/**
 * The faults that can be switched on, three severities each, and the alarm that ought to name them. Magnitudes are
 * the ranges of the trade's diagnosis table (common practice unless said otherwise).
 */
import type { FaultSpec } from './fault-spec.js'
import { HOUSE_FAULTS } from './fault-table-house.js'
import { POWER_FAULTS } from './fault-table-power.js'
import { BENCH_FAULTS } from './fault-table-signals.js'
import { SITE_IDS } from './plan.js'

const PLACE_FAULTS = {
  'dry-well': {
    words: 'the water table falls: the pump draws the bore down and then gulps air',
    expects: 'dry-well',
    sites: SITE_IDS,
    levels: {
      mild: {
        words: 'a trickle comes in, the pump pulses; the control rests the well after 3 min',
        lastsH: null,
        set: { wellStaticShare: 0.35, wellInflowShare: 0.02, dryCurrentShare: 0.66 },
      },
      middle: {
        words: 'almost nothing comes in; the control waits 10 min before it rests the well',
        lastsH: null,
        set: { wellStaticShare: 0.25, wellInflowShare: 0.008, dryCurrentShare: 0.55, dryTripS: 600 },
      },
      strong: {
        words: 'nothing comes in and the control does not look',
        lastsH: null,
        set: {
          wellStaticShare: 0.15,
          wellInflowShare: 0.001,
          dryCurrentShare: 0.42,
          dryTripS: Number.POSITIVE_INFINITY,
        },
      },
    },
  },
  'slow-well': {
    words: 'the well gives less than the pump takes: runs shrink, and the control rests it for 20 min each time',
    expects: 'dry-well',
    sites: SITE_IDS,
    levels: {
      mild: {
        words: 'a quarter of the pumped flow comes in',
        lastsH: null,
        set: { wellStaticShare: 0.3, wellInflowShare: 0.15, dryTripS: 60, restAfterDryS: 1_200 },
      },
      middle: {
        words: 'an eighth',
        lastsH: null,
        set: { wellStaticShare: 0.27, wellInflowShare: 0.09, dryTripS: 60, restAfterDryS: 1_200 },
      },
      strong: {
        words: 'a fifteenth; the control rests it for 40 min',
        lastsH: null,
        set: { wellStaticShare: 0.25, wellInflowShare: 0.05, dryTripS: 60, restAfterDryS: 2_400 },
      },
    },
  },
  'control-chatter': {
    words: 'the float or relay chatters: the pump is switched on and off while water is called for',
    expects: 'sensor-suspect',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'some 15 s on, 25 s off', lastsH: 24, set: { chatterOnS: 12, chatterOffS: 20 } },
      middle: { words: 'some 3 s on and off', lastsH: 24, set: { chatterOnS: 2, chatterOffS: 2 } },
      strong: { words: 'a second or two on and off, for good', lastsH: null, set: { chatterOnS: 1, chatterOffS: 1 } },
    },
  },
  'lost-prime': {
    words: 'the pump turns but has lost its water or its coupling: light from the start',
    expects: 'dry-well',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'light, the control rests it', lastsH: null, set: { primeLost: true, dryCurrentShare: 0.66 } },
      middle: {
        words: 'lighter, the control waits 10 min',
        lastsH: null,
        set: { primeLost: true, dryCurrentShare: 0.55, dryTripS: 600 },
      },
      strong: {
        words: 'lightest, the control does not look',
        lastsH: null,
        set: { primeLost: true, dryCurrentShare: 0.4, dryTripS: Number.POSITIVE_INFINITY },
      },
    },
  },
  'locked-rotor': {
    words: 'the rotor does not turn',
    expects: 'pump-stalled',
    sites: SITE_IDS,
    levels: {
      mild: { words: '2.5 times its current, and stays', lastsH: null, set: { lockedShare: 2.5 } },
      middle: {
        words: '4 times; a protector trips after 8 s and tries again each minute',
        lastsH: null,
        set: { lockedShare: 4, lockedGuard: 'trips' },
      },
      strong: {
        words: '6 times; the fuse blows after 4 s',
        lastsH: null,
        set: { lockedShare: 6, lockedGuard: 'fuse' },
      },
    },
  },
  'no-start': {
    words: 'the circuit of the pump is open',
    expects: 'pump-no-start',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'a contact that fails for 12 h', lastsH: 12, set: { circuitOpen: true } },
      middle: { words: 'a blown fuse, mended after 36 h', lastsH: 36, set: { circuitOpen: true } },
      strong: { words: 'a broken wire', lastsH: null, set: { circuitOpen: true } },
    },
  },
  'no-rise': {
    words: 'the pump works and no water arrives',
    expects: 'no-rise',
    sites: SITE_IDS,
    levels: {
      mild: {
        words: 'a hole in the drop pipe takes 92 % of the water, a little less head',
        lastsH: null,
        set: { arrivesShare: 0.08, headShare: 0.93 },
      },
      middle: {
        words: 'the drop pipe has parted near the top',
        lastsH: null,
        set: { arrivesShare: 0, headShare: 0.97 },
      },
      strong: { words: 'a shut valve: 1.6 times its current', lastsH: null, set: { shutShare: 1.6 } },
    },
  },
  'stuck-on': {
    words: 'the control does not stop the pump at the high mark',
    expects: 'overfill',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'lets go 40 min past the mark', lastsH: null, set: { stuckOnS: 2_400 } },
      middle: { words: 'lets go 6 h past the mark', lastsH: null, set: { stuckOnS: 21_600 } },
      strong: { words: 'welded', lastsH: null, set: { stuckOnS: Number.POSITIVE_INFINITY } },
    },
  },
  'fill-long': {
    words: 'water still arrives, but far too little',
    expects: 'fill-long',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'a split line after the pump loses 55 %', lastsH: null, set: { arrivesShare: 0.45 } },
      middle: {
        words: 'a worn pump gives 40 % of its flow',
        lastsH: null,
        set: { yieldShare: 0.4, torqueShare: 0.94 },
      },
      strong: {
        words: 'a worn-out pump gives 30 % of its flow',
        lastsH: null,
        set: { yieldShare: 0.3, torqueShare: 0.88 },
      },
    },
  },
  'yield-falling': {
    words: 'the pump wears',
    expects: 'yield-falling',
    sites: SITE_IDS,
    levels: {
      mild: { words: '10 % less at once', lastsH: null, set: { yieldShare: 0.9 } },
      middle: { words: '20 % less within 20 days', lastsH: null, rampH: 480, set: { yieldShare: 0.8 } },
      strong: { words: '25 % less at once', lastsH: null, set: { yieldShare: 0.75, torqueShare: 0.97 } },
    },
  },
  'pipe-drains': {
    words: 'the check valve leaks: the drop pipe empties between runs and every start is light for minutes',
    expects: null,
    sites: SITE_IDS,
    levels: {
      mild: { words: 'three times the usual water runs back', lastsH: null, set: { weepShare: 3 } },
      middle: { words: 'five times', lastsH: null, set: { weepShare: 5 } },
      strong: { words: 'nearly the whole pipe', lastsH: null, set: { weepShare: 10 } },
    },
  },
  'tank-low': {
    words: 'more is drawn than the pump brings',
    expects: 'tank-low',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'a hose left open, 7 l/min for 6 h', lastsH: 6, set: { extraDrawLMin: 7 } },
      middle: { words: 'two hoses, 12 l/min for 2 h', lastsH: 2, set: { extraDrawLMin: 12 } },
      strong: { words: 'a burst pipe, 30 l/min for 1 h', lastsH: 1, set: { extraDrawLMin: 30 } },
    },
  },
  leak: {
    words: 'water runs away from the tank, faster when it is fuller',
    expects: 'leak',
    sites: SITE_IDS,
    levels: {
      mild: { words: '4 l/h', lastsH: null, set: { leakLH: 4 } },
      middle: { words: '15 l/h', lastsH: null, set: { leakLH: 15 } },
      strong: { words: '120 l/h', lastsH: null, set: { leakLH: 120 } },
    },
  },
  'toilet-runs': {
    // With probes only so little is not told from a thirsty household.
    words: 'the flap of a toilet does not close: water runs day and night until somebody jiggles it',
    expects: 'leak',
    sites: ['juniper'],
    levels: {
      mild: { words: '16 l/h (100 gal a day)', lastsH: null, set: { extraDrawLMin: 0.263 } },
      middle: { words: '60 l/h', lastsH: null, set: { extraDrawLMin: 1 } },
      strong: { words: '120 l/h', lastsH: null, set: { extraDrawLMin: 2 } },
    },
  },
  'battery-low': {
    words: 'the battery cannot carry the place',
    expects: 'battery-low',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'panels give 8 % for 8 days', lastsH: 192, set: { arrayShare: 0.08, cloud: 1 } },
      middle: { words: 'panels give nothing', lastsH: null, set: { arrayShare: 0 } },
      strong: {
        words: 'a cell fails: little capacity, six times the resistance, and no sun',
        lastsH: null,
        set: { capacityShare: 0.12, resistanceShare: 6, voltageLostShare: 0.03, arrayShare: 0.05 },
      },
    },
  },
  'battery-ageing': {
    words: 'the resistance of battery and joints grows',
    expects: 'battery-sag',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'twice within 10 days', lastsH: null, rampH: 240, set: { resistanceShare: 2 } },
      middle: { words: 'four times within 5 days', lastsH: null, rampH: 120, set: { resistanceShare: 4 } },
      strong: { words: 'six times at once', lastsH: null, set: { resistanceShare: 6 } },
    },
  },
  'array-dark': {
    words: 'little or nothing from the panels',
    expects: 'array-dark',
    sites: ['juniper'],
    levels: {
      mild: { words: 'half under snow for 2 days', lastsH: 48, set: { arrayShare: 0.08 } },
      middle: { words: 'under snow for 2 days', lastsH: 48, set: { arrayShare: 0.01 } },
      strong: { words: 'a fuse', lastsH: null, set: { arrayShare: 0 } },
    },
  },
  'cold-charge': {
    words: 'a lithium battery takes charge in frost because its protection fails',
    expects: 'battery-cold-charge',
    sites: ['juniper'],
    levels: {
      mild: { words: 'a frost of days', lastsH: 108, rampH: 8, set: { chargesCold: true, airMassC: -14 } },
      middle: { words: 'a deep frost', lastsH: 108, rampH: 8, set: { chargesCold: true, airMassC: -18 } },
      strong: { words: 'the deepest', lastsH: 132, rampH: 8, set: { chargesCold: true, airMassC: -24 } },
    },
  },
  'line-freezing': {
    words: 'a cold mass of air under a clear sky',
    expects: 'freezing',
    sites: SITE_IDS,
    levels: {
      mild: { words: 'two nights just below', lastsH: 60, rampH: 8, set: { airMassC: -3, cloud: 0.1 } },
      middle: { words: 'two hard nights', lastsH: 60, rampH: 8, set: { airMassC: -8, cloud: 0.05 } },
      strong: { words: 'days of deep frost', lastsH: 108, rampH: 8, set: { airMassC: -17, cloud: 0.05 } },
    },
  },
} as const satisfies Record<string, FaultSpec>

const TABLE = { ...PLACE_FAULTS, ...BENCH_FAULTS, ...HOUSE_FAULTS, ...POWER_FAULTS }
export type FaultKind = keyof typeof TABLE

export const FAULTS: Readonly<Record<FaultKind, FaultSpec>> = TABLE
export const FAULT_KINDS = Object.keys(TABLE) as readonly FaultKind[]

export function isFaultKind(word: string): word is FaultKind {
  return Object.hasOwn(TABLE, word)
}
