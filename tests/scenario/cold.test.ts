/** Tonight's minimum against measured nights, and freeze warnings against simulated winters. `npm run nights` shows more. */
import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { ROOT } from '../support/source-tree.js'
import { compare, readNights } from './cold/hourly-nights.js'
import { PLACES, SEEDS, tally, winter } from './cold/winter.js'

/** A typical meteorological year (TMY3) of Greensboro, NC, 723170; National Solar Radiation Data Base, NREL. Kept outside. */
const FILE = join(ROOT, '..', 'shared', 'data', 'greensboro-nc-hourly.csv')

describe.skipIf(!existsSync(FILE))('measured nights of Greensboro (skipped where ../shared/data is not there)', () => {
  it('are said within 1.8 °C when clear and calm, from other months only: better than last night and than the trend', () => {
    const found = compare(readNights(FILE))
    expect(found.nights).toBeGreaterThan(40)
    expect(found.own).toBeLessThan(1.8)
    expect(found.own).toBeLessThan(0.7 * found.persistence)
    expect(found.own).toBeLessThan(found.rootTrend - 0.2)
    expect(found.own).toBeLessThan(found.straightTrend)
  })
})

/** Whole winters of seeds that no setting was chosen with; `npm run nights -- --winters=20` counts more of them. */
describe('freeze warnings in simulated winters', () => {
  const lived = PLACES.map((place) => [0, 1].map((i) => winter(place, SEEDS.countedFrom + i)))
  const all = tally(lived.flat())

  it('come three hours before any line is at 0 °C in a clear night, also in the first night of a cold spell', () => {
    expect(all.clear).toBeGreaterThan(150)
    expect(all.first).toBeGreaterThanOrEqual(5)
    expect(all.clearAhead).toBe(all.clear)
  })

  it('come before nearly all other frosts, too', () => {
    expect(all.arrived).toBeGreaterThan(300)
    expect(all.arrivedAhead).toBeGreaterThanOrEqual(0.99 * all.arrived)
  })

  it('are in vain, no line below 1 °C, at most one time in five, by line and as told', () => {
    expect(all.warnings).toBeGreaterThan(15)
    expect(all.needless).toBeLessThanOrEqual(all.warnings / 5)
    expect(all.toldNeedless).toBeLessThanOrEqual(all.told / 5)
  })

  // With a second line that freezes there are more: another line is worse in kind, and told.
  it.each(['juniper', 'fern'] as const)(
    'are with those of freezing fewer than twelve messages a winter at %s',
    (place) => {
      const winters = lived[PLACES.indexOf(place)] ?? []
      expect(tally(winters).notices / winters.length).toBeLessThan(12)
    },
  )
})
