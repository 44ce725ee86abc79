/** The page of the running program, as a stranger and as its owner. */
import type { Page } from 'playwright-core'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { ensureBuilt, folder, startProgram } from '../e2e/support.js'
import { writeConfig } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { needs } from '../support/needs.js'
import { DESK, launch, look, type PHONE } from './browser.js'

const chromium = needs('chromium')

const LONG = { timeout: 60_000 }

beforeAll(ensureBuilt)

async function open(address: string, options: typeof PHONE): Promise<{ page: Page; complaints: string[] }> {
  const browser = await launch(chromium ?? '')
  onTestFinished(() => browser.close())
  return look(browser, address, options)
}

describe.skipIf(chromium === null)('the page of the running program (needs chromium)', () => {
  it('signing in: a stranger sees nothing, a wrong secret is refused, an owner comes in', async () => {
    const port = await freePort()
    const secret = 'far from the grid'
    const { writeFileSync } = await import('node:fs')
    const path = folder()
    writeFileSync(`${path}/ops`, secret, { mode: 0o600 })
    const config = writeConfig(path, 'site.yaml', {
      site: { id: 'juniper', name: 'Juniper Bench', timezone: 'America/Denver' },
      store: { file: 'juniper.db' },
      broker: { embedded: { host: '127.0.0.1', port: await freePort(), anonymous: true } },
      page: { host: '127.0.0.1', port, open_on_loopback: false },
      accounts: { ops: { role: 'owner', secret_file: 'ops' } },
      boards: { 'tank-board': { signals: { 'tank-level': {} } } },
    })
    await startProgram(['run', '--config', config]).listening
    const { page } = await open(`http://127.0.0.1:${port}/`, DESK)
    await page.waitForSelector('#secret', LONG)
    expect(await page.textContent('body')).not.toContain('Juniper')
    await page.fill('#name', 'ops')
    await page.fill('#secret', 'guessed')
    await page.keyboard.press('Enter')
    await page.waitForSelector('text=Name and secret do not fit together', LONG)
    await page.fill('#secret', secret)
    await page.keyboard.press('Enter')
    // No board has spoken yet: the page begins with connecting one.
    await page.waitForSelector('h1:text("Nothing has been heard from Juniper Bench yet.")', LONG)
    await page.waitForSelector('#sensors >> text=topic water/juniper/tank-board', LONG)
  })
})
