import type { AlarmId } from '../src/model/alarm.js'
import type { Effects } from './effects.js'
import type { SiteId } from './plan.js'

export type FaultLevel = {
  readonly words: string
  /** Over by itself after this many hours; null: stays. */
  readonly lastsH: number | null
  /** Grows to its full size within this time; absent: at once. */
  readonly rampH?: number
  readonly set: Partial<Effects>
}

export type FaultSpec = {
  readonly words: string
  /** The alarm that ought to tell of it; null: nothing ought to be said. */
  readonly expects: AlarmId | null
  readonly sites: readonly SiteId[]
  readonly levels: { readonly mild: FaultLevel; readonly middle: FaultLevel; readonly strong: FaultLevel }
}
