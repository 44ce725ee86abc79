/** Whatever stands in the file, loading ends in settings or in findings with a place, never in an exception. */
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { formatFinding, loadConfig } from '../../src/config/index.js'
import { SITE_SECTIONS } from '../../src/config/schema.js'
import { folderOf } from './support.js'

const folder = folderOf({})
const path = join(folder, 'site.yaml')

function survives(content: string | Uint8Array): void {
  writeFileSync(path, content)
  const loaded = loadConfig(path)
  if (!loaded.ok) expect(loaded.errors.length).toBeGreaterThan(0)
  for (const finding of [...(loaded.ok ? [] : loaded.errors), ...loaded.warnings]) {
    expect(formatFinding(finding)).not.toMatch(/[\r\n]/)
    expect(finding.line).toBeGreaterThanOrEqual(0)
    expect(finding.message).not.toBe('')
  }
}

const EXAMPLE = readFileSync(new URL('../../config/juniper.yaml', import.meta.url), 'utf8')

describe('loading', () => {
  it('survives any bytes', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => {
        survives(bytes)
      }),
      { numRuns: 100 },
    )
  })

  it('survives any tree under any section', () => {
    const section = fc.constantFrom(
      ...Object.keys(SITE_SECTIONS),
      'broker',
      'page',
      'store',
      'accounts',
      'beat',
      '__proto__',
    )
    fc.assert(
      fc.property(fc.dictionary(section, fc.jsonValue({ maxDepth: 4 })), (tree) => {
        survives(JSON.stringify(tree))
      }),
      { numRuns: 80 },
    )
  })

  it('survives an example with a piece cut out, doubled or replaced', () => {
    const lines = EXAMPLE.split('\n').filter((line) => line.trim() !== '' && !line.trimStart().startsWith('#'))
    const cut = fc.record({
      from: fc.nat(lines.length - 1),
      count: fc.integer({ min: 1, max: 6 }),
      instead: fc.oneof(
        fc.constant<string[]>([]),
        fc.constantFrom<string[]>(
          ['  x: 1'],
          ['boards: 3'],
          ['    - a'],
          ['  shape: { table: [[1]] }'],
          ['? [a, b]\n: c'],
        ),
        fc.nat(lines.length - 1).map((at): string[] => [lines[at] ?? '']),
      ),
    })
    fc.assert(
      fc.property(cut, ({ from, count, instead }) => {
        survives(lines.toSpliced(from, count, ...instead).join('\n'))
      }),
      { numRuns: 80 },
    )
  })
})
