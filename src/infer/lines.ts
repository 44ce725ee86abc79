/** Pipes in the cold: each line's temperature, from its own sensor or followed from the air, and the time to 0 °C. */
import type { LineFacts } from '../model/facts.js'
import type { LineSettings } from '../model/settings.js'
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import type { SitePlan } from './plan.js'
import { remember } from './ring.js'
import type { EngineState, LineState } from './state.js'
import { fitLine } from './stats.js'

/** Time constants of standing water in a small line, hours, while none is learned [common practice]. Buried: not followed. */
const TAU_H = { exposed: 0.75, boxed: 4 } as const
const AIR_STALE_MS = 30 * MINUTE
const OWN_STALE_MS = 30 * MINUTE
const DEADBAND_C = 0.5
const POINT_EVERY_MS = 5 * MINUTE

/** A reading of a line's own sensor. */
export function takeLineTemperature(line: LineState, t: Ms, celsius: number): void {
  line.c = celsius
  line.t = t
}

/** Moves the lines without a sensor of their own towards the air. */
export function followAir(plan: SitePlan, state: EngineState, at: Ms): void {
  if (state.airC === null || at - state.airT > AIR_STALE_MS) return
  for (let i = 0; i < state.lines.length; i += 1) {
    const line = state.lines[i]
    const settings = plan.site.lines[i]
    if (line === undefined || settings === undefined || plan.lineSignals[i] !== null) continue
    if (settings.kind === 'buried') continue
    if (line.c === null || at - line.t > 6 * HOUR) line.c = state.airC
    else line.c += (state.airC - line.c) * (1 - Math.exp(-(at - line.t) / HOUR / TAU_H[settings.kind]))
    line.t = at
  }
}

/** Fills in the facts of each line at a look. */
export function lookAtLines(plan: SitePlan, state: EngineState, at: Ms, out: LineFacts[]): void {
  for (let i = 0; i < state.lines.length; i += 1) {
    const line = state.lines[i]
    const facts = out[i]
    const settings: LineSettings | undefined = plan.site.lines[i]
    if (line === undefined || facts === undefined || settings === undefined) continue
    const known = line.c !== null && at - line.t <= OWN_STALE_MS
    facts.temperatureC = known ? line.c : null
    facts.modelled = plan.lineSignals[i] === null
    if (!known || line.c === null) {
      facts.frozenSince = line.frozenSince
      facts.hoursToZero = null
      continue
    }
    if (line.c <= (line.frozenSince === null ? 0 : DEADBAND_C)) line.frozenSince ??= at
    else line.frozenSince = null
    facts.frozenSince = line.frozenSince
    const lastPoint = line.points.t.at(-1)
    if (lastPoint === undefined || at - lastPoint >= POINT_EVERY_MS) remember(line.points, at, line.c)
    facts.hoursToZero = hoursToZero(line, at)
  }
}

function hoursToZero(line: LineState, at: Ms): number | null {
  if (line.c === null || line.c <= 0) return null
  const x: number[] = []
  const y: number[] = []
  for (let i = 0; i < line.points.t.length; i += 1) {
    const t = line.points.t[i] ?? 0
    if (at - t > 1.5 * HOUR) continue
    x.push((t - at) / HOUR)
    y.push(line.points.v[i] ?? 0)
  }
  if (x.length < 6) return null
  const fitted = fitLine(x, y)
  return fitted !== null && fitted.slope < -0.1 ? line.c / -fitted.slope : null
}
