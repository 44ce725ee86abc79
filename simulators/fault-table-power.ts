/** What looks like a fault of battery or array and is none: nothing of them is to be told. */
import type { FaultSpec } from './fault-spec.js'
import { SITE_IDS } from './plan.js'

export const POWER_FAULTS = {
  'cold-lock-out': {
    words: 'days of frost under a clear sky: the protection of a lithium battery refuses charge, and is right',
    expects: null,
    sites: ['juniper'],
    levels: {
      mild: { words: 'just below freezing', lastsH: 108, rampH: 8, set: { airMassC: -14, cloud: 0.1 } },
      middle: { words: 'deep frost', lastsH: 108, rampH: 8, set: { airMassC: -18, cloud: 0.1 } },
      strong: { words: 'the deepest', lastsH: 84, rampH: 8, set: { airMassC: -24, cloud: 0.1 } },
    },
  },
  'storm-week': {
    words: 'dark clouds for days: little sun, but some',
    expects: null,
    sites: SITE_IDS,
    levels: {
      mild: { words: '2 days', lastsH: 48, set: { cloud: 0.97 } },
      middle: { words: '4 days', lastsH: 96, set: { cloud: 1 } },
      strong: { words: 'a week, as dark as clouds get', lastsH: 168, set: { cloud: 1, arrayShare: 0.75 } },
    },
  },
} as const satisfies Record<string, FaultSpec>
