import { createHash } from 'node:crypto'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { captureLine } from '../../simulators/capture.js'
import { parseFault } from '../../simulators/fault.js'
import { FAULT_KINDS, FAULTS } from '../../simulators/fault-table.js'
import { Random } from '../../simulators/random.js'
import { type SimulateOptions, simulate } from '../../simulators/simulate.js'
import { START } from './watch.js'

const base: SimulateOptions = { site: 'juniper', seed: 3, startMs: START, days: 1 }

function hash(options: SimulateOptions, until = Number.POSITIVE_INFINITY): string {
  const sum = createHash('sha256')
  const { messages, truth } = simulate(options)
  for (const message of messages) if (message.at < until) sum.update(captureLine(message))
  if (until === Number.POSITIVE_INFINITY) sum.update(JSON.stringify(truth))
  return sum.digest('hex')
}

test('the same seed gives the same bytes, messages and truth', () => {
  expect(hash(base)).toBe(hash(base))
})

test('another seed, and another site of the same seed, give other bytes', () => {
  const all = new Set([hash(base), hash({ ...base, seed: 4 }), hash({ ...base, site: 'fern' })])
  expect(all.size).toBe(3)
})

test('until a fault begins, the days are those without it, to the byte', () => {
  const from = START + 6 * 3_600_000
  const healthy = hash(base, from)
  for (const kind of FAULT_KINDS.filter((each) => FAULTS[each].sites.includes('juniper'))) {
    expect([kind, hash({ ...base, days: 0.3, faults: [parseFault(`${kind}:strong@6h`, START)] }, from)]).toEqual([
      kind,
      healthy,
    ])
  }
})

test('chance is even, normal and the same for a seed and stream, whichever they are', () => {
  fc.assert(
    fc.property(fc.integer(), fc.string({ maxLength: 12 }), (seed, stream) => {
      const random = new Random(seed, stream)
      const again = new Random(seed, stream)
      let sum = 0
      let square = 0
      let normal = 0
      let odd = 0
      const n = 2_000
      for (let i = 0; i < n; i++) {
        const x = random.next()
        if (x !== again.next() || x < 0 || x >= 1) odd++
        sum += x
        square += x * x
      }
      for (let i = 0; i < n; i++) normal += random.normal() ** 2
      expect(odd).toBe(0)
      // Six standard errors of mean 1/2, mean square 1/3 and variance 1.
      expect(Math.abs(sum / n - 1 / 2)).toBeLessThan(6 * Math.sqrt(1 / 12 / n))
      expect(Math.abs(square / n - 1 / 3)).toBeLessThan(6 * Math.sqrt(4 / 45 / n))
      expect(Math.abs(normal / n - 1)).toBeLessThan(6 * Math.sqrt(2 / n))
    }),
    { numRuns: 50 },
  )
})
