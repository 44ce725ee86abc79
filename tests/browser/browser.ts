/** A browser, the built page, and a made-up site behind it, for the tests of the page. */
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core'
import { buildPage } from '../../config/tooling/build-page.mjs'
import { afterAll, afterEach, beforeAll } from 'vitest'
import { createFakeApp, type FakeApp } from '../show/fake-app.js'
import type { FakeSource } from '../show/fake-source.js'

export async function launch(executablePath: string): Promise<Browser> {
  return chromium.launch({
    executablePath,
    args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking'],
  })
}

export type Served = FakeApp & { readonly url: string }

/** The page is built once for a file of tests. */
export async function buildOnce(): Promise<{ dir: string; remove: () => Promise<void> }> {
  const dir = await mkdtemp(join(tmpdir(), 'sightglass-page-'))
  await buildPage(join(dir, 'page'))
  return { dir: join(dir, 'page'), remove: () => rm(dir, { recursive: true, force: true }) }
}

export async function serve(
  pageDir: string,
  source: FakeSource,
  access: 'open' | 'accounts' = 'open',
): Promise<Served> {
  const made = createFakeApp({ source, pageDir, access })
  const url = await made.app.listen({ host: '127.0.0.1', port: 0 })
  return { ...made, url }
}

export type Seen = { readonly page: Page; readonly complaints: string[]; readonly bytes: () => Promise<number[]> }

/** Opens an address and gathers whatever the browser complains of: errors, warnings, failed requests; and sizes. */
export async function look(browser: Browser, url: string, options: BrowserContextOptions): Promise<Seen> {
  const context = await browser.newContext(options)
  const page = await context.newPage()
  const complaints: string[] = []
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') complaints.push(message.text())
  })
  page.on('pageerror', (error) => complaints.push(String(error)))
  const sizes: Promise<number>[] = []
  page.on('requestfinished', (request) => {
    const size = request.sizes().then((found) => found.responseBodySize + found.responseHeadersSize)
    // A request that ends as the page is closed has nobody to be asked of; who waits for the sum still gets the error.
    size.catch(() => undefined)
    sizes.push(size)
  })
  await page.goto(url)
  return { page, complaints, bytes: () => Promise.all(sizes) }
}

export type Stage = {
  /** Serves the page over this source and opens it. */
  readonly open: (
    source: FakeSource,
    options: BrowserContextOptions,
    path?: string,
    access?: 'open' | 'accounts',
  ) => Promise<Seen & { readonly served: Served }>
}

/** Sets up browser and page for the tests of one `describe`, and takes everything down again after each of them. */
export function createStage(executablePath: string | null): Stage {
  let browser: Browser | null = null
  let built: { dir: string; remove: () => Promise<void> } | null = null
  const ends: (() => Promise<unknown>)[] = []

  beforeAll(async () => {
    built = await buildOnce()
    browser = await launch(executablePath ?? '')
  })
  afterEach(async () => {
    for (const end of ends.splice(0).toReversed()) await end()
  })
  afterAll(async () => {
    await browser?.close()
    await built?.remove()
  })

  return {
    async open(source, options, path = '/', access = 'open') {
      if (browser === null || built === null) throw new Error('the stage is not set up')
      const served = await serve(built.dir, source, access)
      ends.push(() => served.app.close())
      const seen = await look(browser, served.url + path, options)
      ends.push(() => seen.page.context().close())
      return { ...seen, served }
    },
  }
}

/** Waits until every part of the page stands. */
export async function whole(page: Page): Promise<void> {
  await page.waitForSelector('#fills table')
  await page.waitForSelector('#day figure .uplot')
  await page.waitForSelector('#journal li')
}

/** For polling on a machine that others load too. */
export const PATIENCE = { timeout: 20_000 }

export const PHONE = { viewport: { width: 360, height: 740 } }
export const DESK = { viewport: { width: 1280, height: 900 } }
