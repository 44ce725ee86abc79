import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { loadConfig } from '../../src/config/load.js'
import { openStore, type Store } from '../../src/record/store.js'
import { exampleFile } from '../support/example-config.js'
import { storedHours, trueCourse } from '../scenario/sizing/truth.js'
import { MONDAY, verb } from './support.js'

const path = mkdtempSync(join(tmpdir(), 'sightglass-size-'))
const config = exampleFile(path, 'juniper')
const store = begin()

function begin(): Store {
  const loaded = loadConfig(config)
  if (!loaded.ok) throw new Error('the example is not valid')
  const made = openStore({ file: loaded.settings.store.file, now: MONDAY })
  for (const hour of storedHours(trueCourse({ seed: 4, years: 1 }), 10, 45)) made.energyHours.put('juniper', hour)
  return made
}

afterAll(() => {
  store.close()
  rmSync(path, { recursive: true, force: true })
})

describe('size beside a daemon that has the store', () => {
  it('prints what to get, in words, the same each time', async () => {
    const first = await verb(['size', '--config', config])
    expect(first).toMatchObject({ code: 0, err: '' })
    expect(first.out).toContain('How much panel and battery: Juniper Bench')
    expect(first.out).toMatch(/What stands there now, \d+ W and \d+ Ah/)
    expect(first.out).toContain('By hand: ')
    expect((await verb(['size', '--config', config])).out).toBe(first.out)
  })

  it('prints the same as JSON, for the water that is needed', async () => {
    const { code, out } = await verb(['size', '--config', config, '--need', '80 gal', '--json'])
    expect(code).toBe(0)
    const body = JSON.parse(out)
    expect(body.basis.need_l_per_day).toBeCloseTo(302.8, 1)
    expect(body.options.length).toBeGreaterThan(20)
  })

  it('refuses a need that is no volume with exit code 2', async () => {
    const { code, err } = await verb(['size', '--config', config, '--need', '80 ft'])
    expect(code).toBe(2)
    expect(err).toMatch(/--need "80 ft" has the unit of a length/)
  })
})
