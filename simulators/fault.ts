/** Faults as they are asked for: which, how bad, from when until when. What each does is in fault-table.ts. */
import { DAY, HOUR, MINUTE, type Ms } from '../src/model/time.js'
import { type Effects, NO_EFFECTS } from './effects.js'
import { FAULTS, type FaultKind, isFaultKind } from './fault-table.js'
import type { SiteId } from './plan.js'

export const SEVERITIES = ['mild', 'middle', 'strong'] as const
export type Severity = (typeof SEVERITIES)[number]

/** What was asked for cannot be; the message says what can. */
export class WrongWords extends Error {}

export type Fault = {
  readonly kind: FaultKind
  readonly severity: Severity
  readonly startMs: Ms
  /** When it is mended; null: as long as this severity lasts by itself, or to the end. */
  readonly endMs: Ms | null
}

/**
 * Reads `dry-well:middle@12d6h`, with `+8h` behind it for how long: `leak:mild@3d+36h`. Times count from the start
 * of the simulation. Throws WrongWords with what was expected.
 */
export function parseFault(words: string, startMs: Ms): Fault {
  const match = /^([a-z-]+)(?::([a-z]+))?@([0-9dhm.]+)(?:\+([0-9dhm.]+))?$/.exec(words)
  const form = 'expected KIND:SEVERITY@WHEN or KIND:SEVERITY@WHEN+HOWLONG, as in dry-well:middle@12d6h'
  if (match === null) throw new WrongWords(`fault "${words}": ${form}`)
  const [, kind = '', severity = 'middle', when = '', length] = match
  if (!isFaultKind(kind)) {
    throw new WrongWords(`fault "${words}": no fault is called "${kind}"; known: ${Object.keys(FAULTS).join(', ')}`)
  }
  const known = SEVERITIES.find((each) => each === severity)
  if (known === undefined)
    throw new WrongWords(`fault "${words}": severity "${severity}"; known: ${SEVERITIES.join(', ')}`)
  const from = startMs + parseSpan(when, words)
  return {
    kind,
    severity: known,
    startMs: from,
    endMs: length === undefined ? null : from + parseSpan(length, words),
  }
}

function parseSpan(text: string, whole: string): Ms {
  const unit = { d: DAY, h: HOUR, m: MINUTE } as const
  let sum = 0
  let seen = ''
  for (const [part, number = '', letter = ''] of text.matchAll(/(\d+(?:\.\d+)?)([dhm])/g)) {
    seen += part
    sum += Number(number) * (letter === 'd' ? unit.d : letter === 'h' ? unit.h : unit.m)
  }
  if (seen === '' || seen !== text) {
    throw new WrongWords(
      `fault "${whole}": "${text}" is no span of time; expected days, hours, minutes, as in 12d6h30m`,
    )
  }
  return Math.round(sum)
}

/** The instant at which a fault is over by itself or mended; Infinity: never. */
export function endOf(fault: Fault): Ms {
  if (fault.endMs !== null) return fault.endMs
  const { lastsH } = FAULTS[fault.kind].levels[fault.severity]
  return lastsH === null ? Number.POSITIVE_INFINITY : fault.startMs + lastsH * HOUR
}

/** All faults of a simulation, folded into one record of effects for an instant. */
export class FaultList {
  readonly effects: Effects = { ...NO_EFFECTS }
  readonly #faults: readonly Fault[]
  #clean = true

  /** Throws where a fault cannot be at that site (no probes, no level sensor). */
  constructor(faults: readonly Fault[], site: SiteId) {
    for (const { kind } of faults) {
      const { sites } = FAULTS[kind]
      if (!sites.includes(site))
        throw new WrongWords(`fault "${kind}" cannot be at ${site}; it can at: ${sites.join(', ')}`)
    }
    this.#faults = faults
  }

  /** Brings `effects` up to `at`; the same object each time. */
  refresh(at: Ms): Effects {
    if (this.#clean && this.#faults.length === 0) return this.effects
    Object.assign(this.effects, NO_EFFECTS)
    for (const fault of this.#faults) {
      if (at < fault.startMs || at >= endOf(fault)) continue
      const level = FAULTS[fault.kind].levels[fault.severity]
      const share = level.rampH === undefined ? 1 : Math.min(1, (at - fault.startMs) / (level.rampH * HOUR))
      apply(this.effects, level.set, share)
    }
    this.#clean = this.#faults.every((fault) => at >= endOf(fault))
    return this.effects
  }

  active(at: Ms): readonly Fault[] {
    return this.#faults.filter((fault) => at >= fault.startMs && at < endOf(fault))
  }
}

/** Numbers grow from what they were to what the level says; all else switches at once. */
function apply(effects: Effects, set: Partial<Effects>, share: number): void {
  const whole: Record<string, unknown> = {}
  for (const [name, value] of Object.entries(set)) {
    const before = effects[name as keyof Effects]
    const blends = typeof value === 'number' && typeof before === 'number' && Number.isFinite(value + before)
    whole[name] = blends ? before + (value - before) * share : value
  }
  Object.assign(effects, whole)
}
