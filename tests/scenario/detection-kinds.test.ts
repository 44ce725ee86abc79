import { describe, expect, it } from 'vitest'
import { FAULT_KINDS } from '../../simulators/fault-table.js'
import { ALL_EXPECTATIONS, forgottenKinds } from './detection/quiet.js'

describe('the table of faults', () => {
  it('has one expectation for every kind: an alarm, or that nothing is said', () => {
    expect(forgottenKinds()).toEqual([])
    expect(ALL_EXPECTATIONS.map(({ kind }) => kind).sort()).toEqual([...FAULT_KINDS].sort())
  })
})
