import type { Ms } from './time.js'

/** What people have said about the place, handed to the judge at each look. */
export type Modes = {
  readonly away: boolean
  readonly winterized: boolean
  /** Maintenance ends by itself at this instant. */
  readonly maintenanceUntil: Ms | null
}

/** An entry of the service log. */
export type JournalEntry = {
  readonly id: number
  readonly site: string
  readonly at: Ms
  readonly by: string
  readonly text: string
  /** True: what was learned before this entry no longer serves (new pump, moved sensor). */
  readonly newBaseline: boolean
  /** Name of the upkeep that was done; null: none. */
  readonly upkeep: string | null
}
