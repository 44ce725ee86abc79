/** config/site.schema.json, which editors read: current, and of one mind with the program. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { z } from 'zod'
import { siteJsonSchema, siteJsonSchemaText } from '../../src/config/json-schema.js'
import { DAEMON_SECTIONS, SITE_SECTIONS } from '../../src/config/schema.js'

const file = (name: string): string => readFileSync(new URL(`../../config/${name}`, import.meta.url), 'utf8')

describe('config/site.schema.json', () => {
  it('is what the schema of the program generates (npx tsx config/tooling/schema.ts writes it anew)', () => {
    expect(file('site.schema.json')).toBe(siteJsonSchemaText())
  })

  it('names every section, needs only the place, and refuses what is unknown', () => {
    const schema = siteJsonSchema()
    expect(Object.keys(Object(schema.properties))).toEqual(Object.keys({ ...SITE_SECTIONS, ...DAEMON_SECTIONS }))
    expect(schema.required).toEqual(['site'])
    expect(schema.additionalProperties).toBe(false)
  })

  it('describes quantities as text with the units to choose from', () => {
    const text = JSON.stringify(siteJsonSchema())
    expect(text).toContain('A length with its unit: m, cm, mm, km, ft, in, yd.')
    expect(text).toContain('A charge with its unit: Ah, mAh.')
  })

  // The JSON Schema is read back by zod and used as an editor would use it.
  const editor = z.fromJSONSchema(JSON.parse(file('site.schema.json')))

  it.each(['juniper.yaml', 'fern.yaml'])('accepts config/%s', (name) => {
    const result = editor.safeParse(parse(file(name)))
    expect(result.error?.issues ?? []).toEqual([])
  })

  it('refuses what the program refuses', () => {
    const good = { site: { id: 'x', timezone: 'UTC' } }
    expect(editor.safeParse(good).success).toBe(true)
    const wrong = [
      {},
      { site: { timezone: 'UTC' } },
      { ...good, bords: {} },
      { ...good, units: 'metric' },
      { ...good, well: { lift: 180 } },
      { ...good, well: { lift: 'deep' } },
      { ...good, page: { port: 80_000 } },
      { ...good, season: { winterized: 'yes' } },
      { ...good, alarms: { leak: { priority: 'urgent' } } },
      { ...good, tell: { ways: { w: { kind: 'emial' } } } },
    ]
    for (const each of wrong) expect(editor.safeParse(each).success, JSON.stringify(each)).toBe(false)
  })
})
