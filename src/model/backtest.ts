/** What one alarm with other settings would have said, beside what it says as configured. */
import type { Priority } from './alarm.js'
import type { Ms } from './time.js'

/** `gone` and `added`: raised in one of the two only; the others are raised in both, and not alike. */
export type BacktestKind = 'added' | 'gone' | 'earlier' | 'later' | 'priority' | 'told' | 'grouped'

export type BacktestChange = {
  readonly change: BacktestKind
  readonly key: string
  readonly title: string
  readonly priority: Priority
  /** When it is raised as configured, and with the other settings; null: it is not. */
  readonly configured: Ms | null
  readonly proposed: Ms | null
}

export type BacktestAnswer = {
  /** Alarms raised in from ≤ t < to are compared. */
  readonly from: Ms
  readonly to: Ms
  /** Where both runs began. */
  readonly runFrom: Ms
  /** Whether they began with what had been learned by then; false: they began with nothing. */
  readonly learned: boolean
  readonly alarms: { readonly configured: number; readonly proposed: number; readonly same: number }
  readonly messages: { readonly configured: number; readonly proposed: number }
  /** Ascending; the first of them where there are too many. */
  readonly changes: readonly BacktestChange[]
  readonly changesInAll: number
}
