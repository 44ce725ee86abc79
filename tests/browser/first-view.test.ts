/** What a first look costs over a thin link, from the built files and the daemon's own answers, all by gzip. */
import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { createFakeApp } from '../show/fake-app.js'
import { buildOnce } from './browser.js'

/** At 1.6 Mbit/s this is three tenths of a second. */
const FIRST_BYTES_MAX = 60_000
/** With the curves and every list that the page asks for by itself. */
const WHOLE_BYTES_MAX = 100_000

const LISTS = [
  '/api/cycles?limit=60',
  '/api/days',
  '/api/refused',
  '/api/usual',
  '/api/journal',
  '/api/upkeep',
  '/api/freeze',
  '/api/alarms',
  ...['tank-level', 'pump-current', 'battery-voltage'].map((key) => `/api/series/${key}?points=400`),
]

let built: { dir: string; remove: () => Promise<void> }
beforeAll(async () => {
  built = await buildOnce()
})
afterAll(() => built.remove())

async function packed(path: string): Promise<number> {
  return gzipSync(await readFile(join(built.dir, path)), { level: 9 }).length
}

/** A script and whatever it names by a static import: `import … from "./x.js"`, as the bundler writes it. */
async function scripts(name: string, seen: Set<string> = new Set()): Promise<ReadonlySet<string>> {
  if (seen.has(name)) return seen
  seen.add(name)
  const text = await readFile(join(built.dir, 'assets', name), 'utf8')
  for (const [, next = ''] of text.matchAll(/(?:from|import)\s*"\.\/([\w-]+\.js)"/g)) await scripts(next, seen)
  return seen
}

async function sum(names: Iterable<string>): Promise<number> {
  let bytes = 0
  for (const name of names) bytes += await packed(join('assets', name))
  return bytes
}

describe('a first look', () => {
  it('costs less than 60 kB for the page and what is so now, and 100 kB with the curves and every list', async () => {
    const html = await readFile(join(built.dir, 'index.html'), 'utf8')
    const main = /assets\/(main-[\w]+\.js)/.exec(html)?.[1] ?? ''
    const style = /assets\/(style-[\w]+\.css)/.exec(html)?.[1] ?? ''
    const first = await scripts(main)
    const text = await readFile(join(built.dir, 'assets', main), 'utf8')
    const plot = /\.\/(plot-[\w]+\.js)/.exec(text)?.[1] ?? ''
    // The curves come after the first view, in a file of their own.
    expect([...first].some((name) => name.startsWith('plot-'))).toBe(false)
    const { app } = createFakeApp()
    const answer = async (url: string): Promise<number> => {
      const { statusCode, payload } = await app.inject(url)
      expect(statusCode, url).toBe(200)
      return gzipSync(payload, { level: 4 }).length
    }
    const page = (await packed('index.html')) + (await packed('mark.svg')) + (await sum([...first, style]))
    const now = await answer('/api/now')
    expect(page).toBeGreaterThan(10_000)
    expect(page + now).toBeLessThan(FIRST_BYTES_MAX)
    let whole = page + now + (await sum(await scripts(plot)))
    for (const url of LISTS) whole += await answer(url)
    await app.close()
    expect(whole).toBeLessThan(WHOLE_BYTES_MAX)
    process.stdout.write(`first view ${page + now} bytes, with everything ${whole}\n`)
  })
})
