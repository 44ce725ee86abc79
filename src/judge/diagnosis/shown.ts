import type { Facts } from '../../model/facts.js'

/** The expected rise must be this many times its doubt before the level is asked. */
const STANDS_OUT = 4
const NONE_BELOW = 0.3

/** Whether the level shows that water arrives, that none does, or cannot show it yet. */
export function waterShown({ evidence }: Facts): 'arrives' | 'none' | 'unknown' {
  const { riseShare, riseShareSd } = evidence
  if (riseShare === null || riseShareSd === null || 1 / riseShareSd < STANDS_OUT) return 'unknown'
  if (riseShare + riseShareSd < NONE_BELOW) return 'none'
  return riseShare - riseShareSd > NONE_BELOW ? 'arrives' : 'unknown'
}
