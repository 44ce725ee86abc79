/** The account of the tank between fills: what was drawn, as far as both ends are known. */
import type { FillCycle } from '../model/fill.js'
import { HOUR } from '../model/time.js'
import { addUse } from './days.js'
import type { SitePlan } from './plan.js'
import type { EngineState, Run } from './state.js'
import { volumeAt } from './tank.js'

const INTERVALS_KEPT = 40

/** The draw between this fill and the one before, where both ends are known. */
export function account(plan: SitePlan, state: EngineState, run: Run, cycle: FillCycle, drawL: number): void {
  const { water } = state
  const { tank } = plan.site
  const byLevel = plan.index['tank-level'] !== undefined && tank !== null
  const startL =
    byLevel && cycle.levelStartM !== null
      ? volumeAt(tank.shape, cycle.levelStartM)
      : byLevel || cycle.volumeL === null
        ? null
        : plan.lowL
  const endL =
    byLevel && cycle.levelEndM !== null
      ? volumeAt(tank.shape, cycle.levelEndM)
      : !byLevel && cycle.endReason === 'full'
        ? plan.highL
        : null
  const { lastFill } = water
  if (lastFill !== null && startL !== null) {
    const hours = (run.start - lastFill.end) / HOUR
    const drawn = lastFill.tankL - startL
    if (hours > 0 && drawn > -20) {
      water.drawL.push(Math.max(0, drawn) + (byLevel ? drawL : 0))
      water.drawH.push(hours + (byLevel ? (cycle.end - cycle.start) / HOUR : 0))
      if (water.drawL.length > INTERVALS_KEPT) {
        water.drawL.shift()
        water.drawH.shift()
      }
    }
    if (!byLevel && cycle.volumeL !== null && endL !== null) addUse(plan, state, lastFill.end, cycle.end, cycle.volumeL)
  }
  water.lastFill = endL === null ? null : { end: cycle.end, tankL: endL, sdL: cycle.volumeL?.sd ?? 0 }
}
