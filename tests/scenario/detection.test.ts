/**
 * Each fault in its middle severity at both sites: the right alarm in its time and no other; of what is no fault, nothing.
 * All severities and seeds are in docs/detection.md, made by `npm run detection -- --write`.
 */
import { describe, expect, it } from 'vitest'
import { FAULTS } from '../../simulators/fault-table.js'
import { EXPECTATIONS } from './detection/expectations.js'
import { isQuiet } from './detection/page.js'
import { runCase } from './detection/run-case.js'

describe.each(EXPECTATIONS)('$kind', (expectation) => {
  it.each(FAULTS[expectation.kind].sites)(
    'at %s is told in time, as what it is, in at most three messages',
    async (site) => {
      const outcome = await runCase(expectation, site, 'middle', 1)
      if (isQuiet({ expectation, severity: 'middle' })) {
        expect(outcome.wrong).toEqual([])
        return
      }
      expect(outcome.from, 'the moment that counts').not.toBeNull()
      expect(outcome.wrong).toEqual([])
      expect({ inTime: outcome.inTime, afterMin: (outcome.toldAfterMs ?? Number.NaN) / 60_000 }).toMatchObject({
        inTime: true,
      })
      expect(outcome.messages).toBeLessThanOrEqual(3)
    },
  )
})
