/** A slow well that its control rests on purpose, and a control that chatters: many runs, one story. Null is "not known". */
import type { Usual } from './facts.js'
import type { Figure } from './fill.js'
import type { Ms } from './time.js'

export type EpisodeFacts = {
  /** A run has ended dry and the next is due or under way: until the tank is full or nothing starts for 80 min. */
  open: boolean
  /** Three rests and more, each after a run that brought water: the well is slow, not dead. */
  active: boolean
  since: Ms | null
  starts: number
  rests: number
  /** Litres that a start brought, that an hour of rest was worth, and that the well gave per hour of rest and run. */
  litresPerStart: Figure | null
  litresPerRestH: Figure | null
  recoveryLH: Figure | null
  /** The control may rest the well until then; null: no rest is under way. */
  mayRestUntil: Ms | null
  /** This place has had such an episode before, and what an hour of rest was usually worth. */
  known: boolean
  usualLPerRestH: Usual | null
  /** The light current now, or the dry end just seen, is what this slow well always does. */
  asUsual: boolean
  /** An hour of rest brings this share of its usual, where that is surely less; null: as usual, or not known. */
  fallenTo: number | null
  /** Since when the pump has been switched on and off again and again, and how often a minute. */
  chatterSince: Ms | null
  switchesPerMin: number
}
