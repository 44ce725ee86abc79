/** The page of the running program over simulated boards, as its owner goes through a bad day there. */
import type { Page } from 'playwright-core'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { ensureBuilt, folder, type Program, startProgram, until } from '../e2e/support.js'
import { writeConfig } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { needs } from '../support/needs.js'
import { DESK, launch, look, PHONE } from './browser.js'

const chromium = needs('chromium')

/**
 * A day takes two minutes and a half, a fill some six seconds; the fault stays over a day, so that a fill meets it. Minutes
 * of a clock that runs so fast are not for a machine with other work: `DAY=1 npx vitest run … journey` runs it.
 */
const WHOLE_DAY = process.env.DAY === '1'
const SPEED = '600'
const FAULT = 'dry-well:middle@6h+30h'
const LONG = { timeout: 240_000 }

beforeAll(ensureBuilt)

async function demo(): Promise<{ program: Program; address: string }> {
  const port = await freePort()
  const program = startProgram(['demo', '--speed', SPEED, '--past', '9', '--port', String(port), '--fault', FAULT])
  await until(
    () => program.out,
    (out) => out.some((line) => line.includes('Page: ')),
    60_000,
    'the address of the page',
  )
  return { program, address: `http://127.0.0.1:${port}/` }
}

async function open(address: string, options: typeof PHONE): Promise<{ page: Page; complaints: string[] }> {
  const browser = await launch(chromium ?? '')
  onTestFinished(() => browser.close())
  return look(browser, address, options)
}

describe.skipIf(chromium === null)('a day with the page of the running program (needs chromium)', () => {
  if (WHOLE_DAY) {
    it('water, a fill under way, the alarm, seen and put aside, the log, the all-clear, and the link lost', {
      timeout: 900_000,
    }, async () => {
      const { program, address } = await demo()
      const { page, complaints } = await open(address, PHONE)
      // Water, before anything is wrong.
      await page.waitForSelector('#section svg text:has-text("gal")', LONG)
      expect(await page.textContent('h1')).toContain('Juniper Bench')
      await page.waitForSelector('#glance >> text=/about \\d+ [dh]/', LONG)
      // A fill under way: its run beside the usual, and the well with its pump on.
      await page.waitForSelector('#section svg .pump.on', LONG)
      await page.waitForSelector('#glance svg.ruler:has-text("usual")', LONG)
      // The alarm, without asking; one press says that it was seen.
      await page.waitForSelector('.alarm.high h3', LONG)
      expect(await page.evaluate(() => document.documentElement.dataset.verdict)).toBe('act')
      await page.locator('.alarm.high button.main').first().click(LONG)
      await page.waitForSelector('.alarm.high >> text=seen by owner', LONG)
      // What was done there.
      await page.fill('#entry', 'Switched the pump off at its breaker')
      await page.click('text=Write it down')
      await page.waitForSelector('#journal li:has-text("Switched the pump off at its breaker")', LONG)
      // Put aside, if it stands long enough to be.
      const aside = page.locator('.alarm.high details:has-text("Put it aside")').first()
      await aside.locator('summary').click(LONG)
      await aside.locator('input[name=reason]').fill('somebody drives up tomorrow')
      await aside.locator('button').click()
      await page.waitForSelector('.alarm >> text=somebody drives up tomorrow', LONG)
      // The well has water again: all clear.
      await page.waitForSelector('.alarm[data-key^=dry-well]', { state: 'detached', ...LONG })
      expect(complaints).toEqual([])
      program.signal('SIGTERM')
      await program.exited
      await page.waitForSelector('text=This page does not reach the daemon.', LONG)
      await page.waitForSelector('h1:text("Last known, from")', LONG)
    })
  }

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
