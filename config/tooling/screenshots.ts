/**
 * Draws docs/page-desk.png and docs/page-phone.png, and the history of each, from the demo: `npx tsx config/tooling/screenshots.ts`. Needs the
 * built program and a Chromium (CHROMIUM names it where it is not /usr/bin/chromium). Takes some minutes: the desk
 * is drawn after two hours of the site's life, the phone when an alarm stands.
 */
import { type ChildProcess, spawn } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { type Browser, chromium } from 'playwright-core'

const PORT = 8197
const ADDRESS = `http://127.0.0.1:${PORT}`
const SPEED = 300
const DESK_AFTER_MS = 2 * 3_600_000
const FAULT = 'dry-well:middle@2h30m+3d'
const PATIENCE_MS = 600_000
const docs = (name: string): string => fileURLToPath(new URL(`../../docs/${name}`, import.meta.url))

type Now = { readonly at: string; readonly alarms: readonly unknown[] }

function startDemo(): ChildProcess {
  const main = fileURLToPath(new URL('../../dist/main.js', import.meta.url))
  const words = ['demo', '--speed', String(SPEED), '--port', String(PORT), '--fault', FAULT]
  return spawn(process.execPath, [main, ...words], { stdio: ['ignore', 'inherit', 'inherit'] })
}

async function now(): Promise<Now | null> {
  try {
    const answer = await fetch(`${ADDRESS}/api/now`)
    return answer.ok ? ((await answer.json()) as Now) : null
  } catch {
    return null
  }
}

/** Asks twice a second until what the site says fits. */
async function until(what: string, fits: (seen: Now) => boolean): Promise<void> {
  const end = performance.now() + PATIENCE_MS
  while (performance.now() < end) {
    const seen = await now()
    if (seen !== null && fits(seen)) return
    await new Promise((done) => setTimeout(done, 500))
  }
  throw new Error(`the demo was not seen to be so within ${PATIENCE_MS / 1000} s: ${what}`)
}

async function draw(browser: Browser, name: string, width: number, height: number): Promise<void> {
  const page = await browser.newPage({ viewport: { width, height } })
  await page.goto(ADDRESS)
  await page.waitForSelector('#fills table')
  await page.waitForSelector('#day figure .uplot')
  await page.screenshot({ path: docs(name) })
  await page.locator('#day').screenshot({ path: docs(name.replace('page-', 'page-history-')) })
  await page.close()
  process.stdout.write(`docs/${name}\n`)
}

const demo = startDemo()
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu'],
})
try {
  let began = Number.NaN
  await until('two hours of life', ({ at }) => {
    if (Number.isNaN(began)) began = Date.parse(at)
    return Date.parse(at) - began >= DESK_AFTER_MS
  })
  await draw(browser, 'page-desk.png', 1280, 900)
  await until('an alarm', ({ alarms }) => alarms.length > 0)
  await draw(browser, 'page-phone.png', 390, 844)
} finally {
  await browser.close()
  demo.kill('SIGTERM')
}
