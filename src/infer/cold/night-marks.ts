/**
 * The night as it goes. At eight marks between two hours past sunset and sunrise the rest of its fall is said anew from
 * how this place's own nights went on from there; between the marks the course of the night moves what was said last.
 */
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import { fallenShare } from './night-course.js'
import { fitSteps, predictSteps, type Step } from './regression.js'
import { type ColdState, type Evening, MARKS, type Night, round2 } from './state.js'

/** A mark that was missed by more than this was not seen. */
const MISSED_MS = 30 * MINUTE
/** Nights with a mark from which on they are asked. */
const LEAST_NIGHTS = 8
/** Spread of the rest of the fall before any night has shown it, °C at the beginning of the night, and what that counts. */
const BEFORE_C = 2
const BEFORE_NIGHTS = 3
/** How far a moment of the night lies from the FAO's course, °C. */
const COURSE_SD_C = 1
const LEAST_SD_C = 0.3
/** Squares of the misses in sd of the fit: before any, at most, and over how many nights they are taken. */
const MISSES_BEFORE = 1.7
const MISS_MOST = 9
const MISSES_OVER = 20
/** Slopes of four steps, and what is left between them. */
const FITTED = 5

/** Takes ten minutes of the night: what the evening said is moved, the more the later it is, or said anew at a mark. */
export function followNight(cold: Pick<ColdState, 'nights' | 'markMisses'>, evening: Evening, at: Ms, c: number): void {
  move(evening, at, c)
  const k = markOf(evening, at)
  if (k === null || evening.marks[k] !== null) return
  evening.marks[k] = round2(c)
  const rest = restOfFall(cold.nights, evening, k)
  if (rest === null) return
  const min = round2(Math.min(c + rest.c, c, evening.coldest ?? c))
  evening.saidAt[k] = [min, round2(rest.sd)]
  const sd = rest.sd * Math.sqrt(Math.max(1, cold.markMisses[k] ?? MISSES_BEFORE))
  if (sd >= evening.sd) return
  evening.min = min
  evening.sd = round2(Math.max(LEAST_SD_C, sd))
  evening.base = { share: shareAt(evening, at), c: round2(c), min: evening.min, sd: evening.sd }
}

/** In the morning what was said at each mark is compared: how much wider than by the fit alone its spread is. */
export function noteMarks(cold: Pick<ColdState, 'markMisses'>, evening: Evening, coldest: number): void {
  evening.saidAt.forEach((said, k) => {
    if (said === null) return
    const miss = Math.min(MISS_MOST, ((coldest - said[0]) / Math.max(LEAST_SD_C, said[1])) ** 2)
    const before = cold.markMisses[k] ?? MISSES_BEFORE
    cold.markMisses[k] = round2(before + (miss - before) / MISSES_OVER)
  })
}

/** The mark that is passed now; null: none. */
function markOf({ sunset, sunrise }: Evening, at: Ms): number | null {
  const from = sunset + 2 * HOUR
  const apart = (sunrise - from) / (MARKS + 1)
  const k = Math.floor((at - from) / apart) - 1
  return k >= 0 && k < MARKS && at - from - (k + 1) * apart <= MISSED_MS ? k : null
}

function shareAt({ sunset, sunrise }: Evening, at: Ms): number {
  return fallenShare((at - sunset) / HOUR, (sunrise - sunset) / HOUR)
}

/** From what was said last, not from the last step: asked more often, the night comes out the same. */
function move(evening: Evening, at: Ms, c: number): void {
  const { base } = evening
  if (base === null) return
  const share = base.share >= 1 ? 1 : (shareAt(evening, at) - base.share) / (1 - base.share)
  const courseSd = Math.min(COURSE_SD_C, base.sd)
  const gain = (share * base.sd ** 2) / (share ** 2 * base.sd ** 2 + courseSd ** 2)
  const moved = base.min + gain * (c - (base.c + (base.min - base.c) * share))
  evening.min = round2(Math.min(moved, base.c, evening.coldest ?? base.c))
  evening.sd = round2(Math.max(LEAST_SD_C, base.sd * Math.sqrt(Math.max(0, 1 - gain * share))))
}

/**
 * How much further it goes down from mark `k` on: by the fall since the mark before and the one before that, then by how near the dew point is,
 * then by the temperature itself (water drawn in the evening leaves a cold line warmer than its surroundings by more).
 */
function restOfFall(nights: readonly Night[], evening: Evening, k: number): { c: number; sd: number } | null {
  const known = nights.flatMap((night) => {
    const figures = figuresOf(night, k)
    return figures === null ? [] : [{ ...figures, rest: night.min - figures.now }]
  })
  const tonight = figuresOf(evening, k)
  if (known.length < LEAST_NIGHTS || tonight === null) return null
  const steps = fitSteps(
    known.map(({ rest }) => rest),
    [
      known.map(({ fall }) => fall),
      known.map(({ earlier }) => earlier),
      known.map(({ damp }) => damp),
      known.map(({ now }) => now),
    ],
  )
  const squares = known.reduce((sum, one) => sum + (one.rest - said(steps, one)) ** 2, 0)
  const n = known.length
  const beforeC = BEFORE_C * Math.sqrt(1 - (k + 1) / (MARKS + 1))
  const sd = Math.sqrt((beforeC ** 2 * BEFORE_NIGHTS + (squares * n) / (n - FITTED)) / (BEFORE_NIGHTS + n))
  // Few nights fit a line that runs wild beyond them: the rest is within what any night has shown, and some.
  const furthest = known.reduce((least, { rest }) => Math.min(least, rest), 0) - BEYOND_C
  return { c: Math.max(furthest, said(steps, tonight)), sd }
}

const BEYOND_C = 3

type Figures = {
  readonly now: number
  /** Since the mark before, and between the two before. */
  readonly fall: number
  readonly earlier: number | null
  readonly damp: number | null
}

function figuresOf({ t0, td, marks }: Pick<Evening, 't0' | 'td' | 'marks'> | Night, k: number): Figures | null {
  const markAt = (i: number) => (i < 0 ? t0 : (marks[i] ?? null))
  const now = markAt(k)
  const before = markAt(k - 1)
  if (now === null || before === null) return null
  const earlier = k === 0 ? null : markAt(k - 2)
  return {
    now,
    fall: before - now,
    earlier: earlier === null ? null : earlier - before,
    damp: td === null ? null : td - now,
  }
}

function said(steps: readonly Step[], { fall, earlier, damp, now }: Figures): number {
  return predictSteps(steps, [fall, earlier, damp, now])
}
