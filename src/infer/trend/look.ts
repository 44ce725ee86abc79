/** The trend at a look: it changes only when a fill is closed, so what was worked out then is handed on. */
import type { Facts } from '../../model/facts.js'
import type { EngineState } from '../state.js'

export function lookAtTrend(state: EngineState, facts: Facts): void {
  facts.trend = state.trend.facts
}
