import { describe, expect, it } from 'vitest'
import { Line } from '../../src/daemon/line.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import { MINUTE } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'
import { AFTERNOON, SILENT_LOG, siteSettings } from '../tell/support.js'

/** Two sites, the first of which trips the program at each step. */
function scene(isolate: boolean) {
  const sites = [siteSettings(), { ...siteSettings(), id: 'fern' }]
  const errors: object[] = []
  const log = { ...SILENT_LOG, debug() {}, error: (fields: object) => errors.push(fields) }
  const store = openStore({ file: ':memory:', now: AFTERNOON })
  const line = new Line({ sites, store, log, judging: true, link: () => null, isolate })
  const stepped: number[] = []
  const state = { broken: true }
  const [first, second] = line.sites
  if (first === undefined || second === undefined) throw new Error('two sites were asked for')
  first.step = () => {
    if (state.broken) throw new Error('a number that is none')
    return 0
  }
  second.step = (now) => {
    stepped.push(now)
    return 0
  }
  return { line, state, stepped, errors }
}

describe('a site whose readings trip the program', () => {
  it('does not hold up the others, is said once, and is known until it works again', () => {
    const { line, state, stepped, errors } = scene(true)
    for (const minute of [1, 2, 3]) line.step(AFTERNOON + minute * MINUTE, () => DAEMON_WELL)
    expect(stepped).toHaveLength(3)
    expect(line.broken).toEqual(['juniper'])
    expect(errors).toHaveLength(1)
    expect(JSON.stringify(errors)).toContain('a number that is none')
    state.broken = false
    line.step(AFTERNOON + 4 * MINUTE, () => DAEMON_WELL)
    expect(line.broken).toEqual([])
  })

  it('stops a replay, whose figures would be wrong', () => {
    const { line } = scene(false)
    expect(() => line.step(AFTERNOON + MINUTE, () => DAEMON_WELL)).toThrow('a number that is none')
  })
})
