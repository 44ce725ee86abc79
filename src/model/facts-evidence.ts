/** What the run under way (or, at rest, the one that ended last) shows of its own health. Null is "not known". */
import type { Usual } from './facts.js'
import type { Ms } from './time.js'

export type EvidenceFacts = {
  /** Start of the run that these readings are of; null: none yet. */
  ofRun: Ms | null
  /** Watts of its last minute, what is usual at that voltage, and their quotient with its standard uncertainty. */
  powerW: number | null
  usualPowerW: Usual | null
  powerShare: number | null
  powerShareSd: number | null
  /** Robust spread of the current over two minutes as a share of its median, and what is usual of a sound run. */
  huntShare: number | null
  usualHuntShare: number | null
  /** By how much its settled current had risen, from its first quarter to its last, before it left its band. */
  creepShare: number | null
  /** Since when the power has stood 1.25 to 2 times as high as usual without a break, and in how many samples. */
  raisedSince: Ms | null
  raisedCount: number
  /** Rise of the tank over the usual flow, since water was due or the current changed; its doubt (noise of the level). */
  riseShare: number | null
  riseShareSd: number | null
  /** Seconds from the start to the first water over this site's usual; null: no level sensor or none arrived. */
  firstRiseShare: number | null
  /** It began though nothing called for water: far above the level at which this control starts. Null: cannot be told. */
  unasked: boolean | null
  /** The level at its start, m. */
  startLevelM: number | null
}
