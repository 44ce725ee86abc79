import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { advance, type DelayState, type Holds } from '../../src/judge/delay.js'

const SETTINGS = { onDelayS: 30, offDelayS: 60 }
const idle = (): DelayState => ({ active: false, holdingSince: null, goneSince: null })

/** One look each 15 s; returns what changed, with its second. */
function follow(
  state: DelayState,
  looks: readonly Holds[],
  sinceS: number | null = null,
): (readonly [number, string])[] {
  return looks.flatMap((holds, i) => {
    const change = advance(state, holds, sinceS === null ? null : sinceS * 1_000, i * 15_000, SETTINGS)
    return change === null ? [] : [[i * 15, change] as const]
  })
}

describe('an unknown look', () => {
  it('does not raise, and what waits begins its wait anew', () => {
    expect(follow(idle(), [true, 'unknown', 'unknown', 'unknown', 'unknown'])).toEqual([])
    expect(follow(idle(), [true, true, 'unknown', true, true, true])).toEqual([[75, 'became-active']])
  })

  it('does not end, and what was going begins to go anew', () => {
    const active: readonly Holds[] = [true, true, true]
    expect(follow(idle(), [...active, ...Array<Holds>(50).fill('unknown')])).toEqual([[30, 'became-active']])
    expect(follow(idle(), [...active, false, false, false, 'unknown', false, false, false, false, false])).toEqual([
      [30, 'became-active'],
      [165, 'became-normal'],
    ])
  })
})

describe('the beginning that a look names', () => {
  it('counts for the delay, so that an alarm is not later than the look after it', () => {
    expect(follow(idle(), [true], -45)).toEqual([[0, 'became-active']])
    expect(follow(idle(), [true, true], -10)).toEqual([])
    expect(follow(idle(), [true, true, true], -10)).toEqual([[30, 'became-active']])
  })

  it('that lies ahead of the look is taken as the look', () => {
    const state = idle()
    advance(state, true, 1e12, 5_000, SETTINGS)
    expect(state.holdingSince).toBe(5_000)
  })

  it('stays the first one once active', () => {
    const state = idle()
    follow(state, [true, true, true, true], -100)
    advance(state, true, 40_000, 60_000, SETTINGS)
    expect(state.holdingSince).toBe(-100_000)
  })
})

it('whatever comes, a condition becomes active only after its whole on-delay and normal only after its whole off-delay', () => {
  fc.assert(
    fc.property(fc.array(fc.constantFrom<Holds>(true, false, 'unknown'), { maxLength: 80 }), (looks) => {
      const state = idle()
      looks.forEach((holds, i) => {
        const change = advance(state, holds, null, i * 15_000, SETTINGS)
        if (change === 'became-active') expect(looks.slice(i - 2, i + 1)).toEqual([true, true, true])
        if (change === 'became-normal') expect(looks.slice(i - 4, i + 1)).toEqual(Array(5).fill(false))
      })
    }),
    { numRuns: 300 },
  )
})
