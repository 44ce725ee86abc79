/**
 * What is so at one look, with numbers: the engine (`infer`) fills this in, the alarms (`judge`) only read it.
 * Null is "not known now": no sensor, stale, or not yet learned. Nothing here says whether anyone should be told.
 */
import type { HouseFacts } from './facts-house.js'
import type { BalanceFacts } from './facts-balance.js'
import type { WellFacts } from './facts-well.js'
import type { EpisodeFacts } from './facts-episode.js'
import type { LossFacts } from './facts-loss.js'
import type { EvidenceFacts } from './facts-evidence.js'
import type { TrendFacts } from './facts-trend.js'
import type { ColdFacts } from './facts-cold.js'
import type { EndReason } from './fill.js'
import type { PowerFacts } from './facts-power.js'
import type { SignalKey } from './roles.js'
import type { Ms } from './time.js'

/** A learned figure: robust centre, robust standard deviation, and on how many complete fills it rests. */
export type Usual = { readonly value: number; readonly sd: number; readonly fills: number }

export type PumpFacts = {
  /** False while the current signal is missing or stale: then nothing below is about now. */
  known: boolean
  running: boolean
  /** Start of the run under way. */
  since: Ms | null
  ranS: number
  /** Past the learned start window (inrush, pipe filling): only then may light current mean anything. */
  settled: boolean
  /** Latest current less the learned zero of the sensor. */
  currentA: number | null
  /** Median of the last minute of this run. */
  recentA: number | null
  /** Samples in that minute. */
  recentCount: number
  /** Median of this run from the end of its start window until its current left its band. */
  runA: number | null
  usualA: Usual | null
  /** Usual current scaled to the voltage now, so that a sagging battery is not taken for a dry well. */
  usualHereA: number | null
  /** Since when current has been continuously below 0.8 of its usual here, above 1.8 of it; null: it is not. */
  lightSince: Ms | null
  heavySince: Ms | null
  /** Samples in that spell. */
  lightCount: number
  heavyCount: number
  /** This run was light from its first settled sample (lost prime rather than a dry well). */
  lightFromStart: boolean
  /** Runs of under 20 s with heavy current in the last 10 min (a protector that trips and tries again). */
  heavyTriesIn10Min: number
  /** Starts in the last 10 min. */
  startsIn10Min: number
  lastEndAt: Ms | null
  lastEnd: EndReason | null
  /** Median current in the last minute of the run that ended last. */
  lastEndA: number | null
  /** The control is expected to rest a well that ran dry until then. */
  restingUntil: Ms | null
}

export type WaterFacts = {
  /** Level by a sensor, median of the last minute; null without one or when stale. */
  levelM: number | null
  levelSdM: number | null
  volumeL: number | null
  volumeSdL: number | null
  /** `volumeL` is reckoned from the last mark and the usual draw, not measured. */
  reckoned: boolean
  /** Contacts and since when they have been so. */
  lowWet: boolean | null
  lowSince: Ms | null
  highWet: boolean | null
  highSince: Ms | null
  fullWet: boolean | null
  fullSince: Ms | null
  /** Since when the level control has been asking for water (below the low mark, or low probe dry). */
  calledSince: Ms | null
  /** Since when the water has stood at or past the high mark, and past the overflow level. */
  atHighSince: Ms | null
  pastFullSince: Ms | null
  /** Litres that should have arrived in the look-back window of this run, that did, and the doubt of the difference. */
  expectedRiseL: number | null
  seenRiseL: number | null
  riseSdL: number | null
  riseWindowS: number
  /** Whether water was seen to arrive lately in this run; null: cannot be told (at rest, or hidden by draw). */
  arriving: boolean | null
  /** When water was last seen to arrive in this run, by a level sensor; null: not yet, or at rest. */
  arrivedAt: Ms | null
  /** Since when no water has been seen to arrive though the pump runs; null: it arrives, or cannot be told. */
  noRiseSince: Ms | null
  usualFlowLMin: Usual | null
  /** This pump's own rate in a run that has become long, draws taken out, over its usual at this voltage. */
  rateShare: number | null
  /** How long this fill should take from where it began, and how long until it is done; null: not learned. */
  expectedFillS: number | null
  /** Usual draw of the household, litres per hour, day and night alike. */
  drawLH: number | null
  /** How long the water left above the outlet lasts, h: at the present use and the usual of the hours to come, else the usual draw. */
  hoursLeft: number | null
}

export type BatteryFacts = {
  /** Latest trusted voltage of the battery (or of the pump's supply where that is all there is). */
  voltageV: number | null
  /** Median of the last minute. */
  recentV: number | null
  /** True while the pump runs or ran in the last 2 min: the voltage is under load. */
  loaded: boolean
  /** Limits by chemistry, scaled to the nominal voltage. */
  restLowV: number | null
  loadedLowV: number | null
  cutOffV: number | null
  /** Since when the voltage has been below the limit that applies. */
  lowSince: Ms | null
  /** When it last was below that limit without having reached `rejoinV` since, as a load that was cut off must see. */
  lastLowAt: Ms | null
  rejoinV: number | null
  /** Fall of the resting voltage, V per hour, over the last hours; null: too few or rising. */
  fallVH: number | null
  hoursToCutOff: number | null
  /** Lowest voltage in the last 30 min: what it was when everything went quiet. */
  lowest30MinV: number | null
  temperatureC: number | null
}

export type LineFacts = {
  readonly name: string
  temperatureC: number | null
  /** From the line's own sensor, or followed from the air by the line's time constant. */
  modelled: boolean
  /** Since when it has been at or below 0 °C. */
  frozenSince: Ms | null
  /** Hours until 0 °C: by tonight's course where there is one, else at the present rate; null: it does not come there. */
  hoursToZero: number | null
  /** The same if the night becomes 1.5 sd colder than expected. */
  hoursToZeroLeast: number | null
  /** Hours until its standing water is frozen through; null: not by the next morning. */
  hoursToIce: number | null
  /** Its coldest until the next morning, the doubt of that, and when. */
  expectedMinC: number | null
  expectedMinSdC: number | null
  expectedMinAt: Ms | null
  /** How deep a buried line lies; null: not buried, or not said. */
  readonly depthM: number | null
  /** Hours in which it follows what is around it, learned from its own sensor or reckoned from its measures. */
  timeConstantH: number | null
  timeConstantLearned: boolean
  /** The pump runs, or did so lately: moving water does not freeze so soon. */
  flowing: boolean
}

export type BoardFacts = {
  readonly id: string
  readonly expectEveryS: number
  /** Time of its latest sample; null: never heard. */
  lastHeard: Ms | null
}

/** Why a signal is not believed. */
export type SuspectKind =
  | 'probes-contradict'
  | 'stuck'
  | 'failed-values'
  | 'too-fast'
  | 'contact-chatter'
  | 'control-chatter'
  | 'missing'
  | 'not-possible'
  | 'unit'
  | 'resets-at-start'
  | 'restarts'
  | 'two-boards-one-name'

export type SuspectFacts = {
  readonly key: SignalKey
  readonly kind: SuspectKind
  readonly since: Ms
  /** The number that shows it (share of failed values, litres pumped while it stood still, changes per minute …). */
  readonly figure: number
  /** Which unit or scale it likely is. */
  readonly likely?: string
}

export type Facts = {
  at: Ms
  /** Complete fills so far, and whether the site's own figures may be relied on (8 fills or 14 days). */
  completeFills: number
  learning: boolean
  pump: PumpFacts
  water: WaterFacts
  battery: BatteryFacts
  lines: LineFacts[]
  cold: ColdFacts
  boards: BoardFacts[]
  /** Time of the latest sample of any board. */
  lastHeard: Ms | null
  /** First sample ever: nothing is silent before there was anything to hear. */
  firstHeard: Ms | null
  /** Longest outage of the whole site that healed by itself in the last 30 days. */
  longestOutageMs: number
  airC: number | null
  occupied: boolean | null
  suspects: SuspectFacts[]
  house: HouseFacts
  evidence: EvidenceFacts
  /** What is usual, and whether yield and energy have moved from it; replaced when a fill is closed. */
  trend: TrendFacts
  episode: EpisodeFacts
  loss: LossFacts
  balance: BalanceFacts
  well: WellFacts
  power: PowerFacts
}
