/** What is usual at a site, each figure with its doubt and what it rests on, and whether it has moved. */
import { z } from 'zod'
import { QUANTITY_KINDS } from '../../model/alarm.js'
import type { Facts } from '../../model/facts.js'
import { type DriftFacts, emptyTrendFacts, type TrendFacts, USUAL_IDS } from '../../model/facts-trend.js'
import type { SiteSettings } from '../../model/settings.js'
import { checkValveSentence, driftSentence, FIGURE_NAMES, suggestionSentence } from '../words/trend.js'
import { centreOf, isoOrNull, NumberOrNull, sdOf, TimeOrNull } from './common.js'

const FIGURE_IDS = [...USUAL_IDS, 'usual-draw', 'drop-per-ampere'] as const

const Figure = z.object({
  id: z.enum(FIGURE_IDS),
  name: z.string(),
  quantity: z
    .enum([...QUANTITY_KINDS, 'resistance'])
    .describe('SI: m, l, l/min, V, A, W, Wh/l, s; ohm of a resistance'),
  value: z.number(),
  sd: NumberOrNull,
  rests_on: NumberOrNull.describe('Fills, or starts of the pump, behind it'),
  since: TimeOrNull,
})

const Drift = z.object({
  direction: z.enum(['not-measured', 'learning', 'steady', 'fallen', 'risen']),
  sentence: z.string(),
  base: NumberOrNull.describe('Yield in l/min, energy in Wh/l, at the reference voltage'),
  base_sd: NumberOrNull,
  base_fills: NumberOrNull,
  now: NumberOrNull,
  share: NumberOrNull.describe('now / base − 1'),
  share_sd: NumberOrNull,
  since: TimeOrNull.describe('When the change began'),
  points: z.number(),
  cusum_up: z.number(),
  cusum_down: z.number(),
  cusum_limit: z.number(),
  ewma: z.number(),
})

export const UsualBody = z
  .object({
    site: z.string(),
    learning: z.boolean(),
    complete_fills: z.number(),
    reference_voltage_v: NumberOrNull,
    figures: z.array(Figure),
    yield_seen: z.enum(['each-fill', 'quiet-fills', 'none']),
    yield: Drift,
    energy: Drift,
    suggestion: z
      .object({ of: z.enum(['yield', 'energy']), since: TimeOrNull, share: z.number(), sentence: z.string() })
      .nullable(),
    check_valve: z.object({
      verdict: z.enum(['not-measured', 'learning', 'as-usual', 'longer']),
      sentence: z.string(),
      seen_by: z.enum(['current', 'level']).nullable(),
      resolution_s: z.number(),
      usual_s: NumberOrNull,
      usual_sd_s: NumberOrNull,
      starts: NumberOrNull,
      latest_s: NumberOrNull,
      recent_s: NumberOrNull,
      growth_s_per_h: NumberOrNull,
      growth_sd_s_per_h: NumberOrNull,
      since: TimeOrNull,
    }),
  })
  .meta({ id: 'Usual' })
export type UsualBody = z.infer<typeof UsualBody>
type FigureBody = UsualBody['figures'][number]

export function usualBody(site: SiteSettings, facts: Facts | null): UsualBody {
  const trend = facts?.trend ?? emptyTrendFacts()
  const { suggestion } = trend
  return {
    site: site.id,
    learning: facts?.learning ?? true,
    complete_fills: facts?.completeFills ?? 0,
    reference_voltage_v: trend.referenceV,
    figures: figuresBody(trend, facts),
    yield_seen: trend.sight,
    yield: driftBody(trend.yield, driftSentence('yield', trend, site)),
    energy: driftBody(trend.energy, driftSentence('energy', trend, site)),
    suggestion:
      suggestion === null
        ? null
        : {
            of: suggestion.of,
            since: isoOrNull(suggestion.since),
            share: suggestion.share,
            sentence: suggestionSentence(suggestion, site),
          },
    check_valve: checkValveBody(trend, site),
  }
}

function figuresBody(trend: TrendFacts, facts: Facts | null): FigureBody[] {
  const learned = trend.figures.map(({ id, quantity, usual, since }): FigureBody => {
    return {
      id,
      name: FIGURE_NAMES[id],
      quantity,
      value: usual.value,
      sd: usual.sd,
      rests_on: usual.fills,
      since: isoOrNull(since),
    }
  })
  return [...learned, ...otherFigures(facts)]
}

/** What other parts of the engine have learned. */
function otherFigures(facts: Facts | null): FigureBody[] {
  const listed: FigureBody[] = []
  const draw = facts?.water.drawLH ?? null
  const unknown = { sd: null, rests_on: null, since: null }
  if (draw !== null) {
    listed.push({ id: 'usual-draw', name: 'Water used in an hour', quantity: 'volume', value: draw, ...unknown })
  }
  const drop = facts?.power.sag?.usual ?? null
  if (drop !== null) {
    const { value, sd, starts } = drop
    const name = 'Voltage lost for each ampere, at 20 °C'
    const since = null
    listed.push({ id: 'drop-per-ampere', name, quantity: 'resistance', value, sd, rests_on: starts, since })
  }
  return listed
}

function driftBody(drift: DriftFacts, sentence: string): UsualBody['yield'] {
  return {
    direction: drift.direction,
    sentence,
    base: drift.base?.value ?? null,
    base_sd: drift.base?.sd ?? null,
    base_fills: drift.base?.fills ?? null,
    now: drift.now,
    share: drift.share,
    share_sd: drift.shareSd,
    since: isoOrNull(drift.since),
    points: drift.points,
    cusum_up: drift.sumUp,
    cusum_down: drift.sumDown,
    cusum_limit: drift.sumLimit,
    ewma: drift.mean,
  }
}

function checkValveBody({ checkValve }: TrendFacts, site: SiteSettings): UsualBody['check_valve'] {
  return {
    verdict: checkValve.verdict,
    sentence: checkValveSentence(checkValve, site),
    seen_by: checkValve.witness,
    resolution_s: checkValve.resolutionS,
    usual_s: checkValve.usual?.value ?? null,
    usual_sd_s: checkValve.usual?.sd ?? null,
    starts: checkValve.usual?.fills ?? null,
    latest_s: checkValve.latestS,
    recent_s: checkValve.recentS,
    growth_s_per_h: centreOf(checkValve.growthSPerH),
    growth_sd_s_per_h: sdOf(checkValve.growthSPerH),
    since: isoOrNull(checkValve.since),
  }
}
