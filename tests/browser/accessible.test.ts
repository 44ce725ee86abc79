/** WCAG 2.2, levels A and AA, as far as axe-core can check it: the page whole, everything opened, in both schemes. */
import { readFile } from 'node:fs/promises'
import { createRequire } from 'node:module'
import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import { JUNIPER } from '../show/fake-site.js'
import { createFakeSource } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, DESK, PATIENCE, PHONE, whole } from './browser.js'

const chromium = needs('chromium')
const AXE = createRequire(import.meta.url).resolve('axe-core/axe.min.js')
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22a', 'wcag22aa', 'best-practice']

type Result = { violations: { id: string; help: string; nodes: { html: string }[] }[]; passes: unknown[] }

/** Its script comes in by the debugger, which the page's own policy does not bind. */
async function violations(page: Page, source: string): Promise<string[]> {
  await page.evaluate(source)
  const found = (await page.evaluate(
    (values) =>
      (globalThis as unknown as { axe: { run(on: Document, how: object): Promise<unknown> } }).axe.run(document, {
        runOnly: { type: 'tag', values },
      }),
    TAGS,
  )) as Result
  expect(found.passes.length).toBeGreaterThan(15)
  return found.violations.flatMap(({ id, help, nodes }) =>
    nodes.map(({ html }) => `${id}: ${help}: ${html.slice(0, 160)}`),
  )
}

async function openAll(page: Page): Promise<void> {
  for (const words of ['Check the sensors', 'Alarms: what each']) await page.click(`summary:has-text("${words}")`)
  await page.waitForSelector('#sensors .signals details')
  await page.waitForSelector('#alarms .signals details')
  await page.click('#fills button[aria-label^="Open the fill"]')
  await page.waitForSelector('#one-fill svg')
  await page.evaluate(() => {
    for (const one of document.querySelectorAll('details')) one.open = true
  })
  await page.waitForSelector('#sizing table')
  await expect.poll(() => page.locator('#day figure table').count(), PATIENCE).toBe(3)
}

describe.skipIf(chromium === null)('for everybody (needs chromium)', () => {
  const stage = createStage(chromium)

  it.each([
    ['a phone by day', { ...PHONE, colorScheme: 'light' as const }],
    ['a phone by night', { ...PHONE, colorScheme: 'dark' as const }],
    ['a desk by day', { ...DESK, colorScheme: 'light' as const }],
    ['a desk by night', { ...DESK, colorScheme: 'dark' as const }],
  ])('on %s the page has no fault that axe-core finds, shut and with everything open', async (_name, options) => {
    const axe = await readFile(AXE, 'utf8')
    const upkeep = [{ name: 'water filter', everyDays: 90 }]
    const { page } = await stage.open(createFakeSource([{ ...JUNIPER, upkeep }]), options)
    await whole(page)
    expect(await violations(page, axe)).toEqual([])
    await openAll(page)
    expect(await violations(page, axe)).toEqual([])
    // WCAG 2.2, 1.4.10: nothing scrolls sideways at this width.
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(options.viewport.width)
  })

  it('so has the first run, the sign-in, and the page without a link', async () => {
    const axe = await readFile(AXE, 'utf8')
    const source = createFakeSource()
    source.alarmsOf.clear()
    source.factsOf.set('juniper', null)
    const first = await stage.open(source, PHONE)
    await first.page.waitForSelector('#sensors .signals details')
    expect(await violations(first.page, axe)).toEqual([])
    const shut = await stage.open(createFakeSource(), PHONE, '/', 'accounts')
    await shut.page.waitForSelector('#secret')
    expect(await violations(shut.page, axe)).toEqual([])
    const { page } = await stage.open(createFakeSource(), { ...PHONE, colorScheme: 'dark' })
    await whole(page)
    await page.route('**/api/**', (route) => route.abort())
    await page.evaluate(() => document.dispatchEvent(new Event('visibilitychange')))
    await page.waitForSelector('h1:text("Last known")')
    expect(await violations(page, axe)).toEqual([])
  })

  it('lets the keyboard reach everything that can be pressed, each with a mark of focus', async () => {
    const { page } = await stage.open(createFakeSource(), DESK)
    await whole(page)
    const reached = new Set<string>()
    let unmarked = 0
    for (let n = 0; n < 200; n += 1) {
      await page.keyboard.press('Tab')
      const at = await page.evaluate(() => {
        const { activeElement: active } = document
        if (active === null || active === document.body) return null
        const index = [...document.querySelectorAll('*')].indexOf(active)
        const counts = active.matches('a[href], button, input, select, textarea, summary')
        return { index, counts, marked: getComputedStyle(active).outlineStyle === 'solid' }
      })
      if (at === null) break
      if (!at.marked) unmarked += 1
      if (at.counts) reached.add(String(at.index))
    }
    const wanted = await page.evaluate(() => {
      const shown = (one: Element): boolean => one.checkVisibility({ visibilityProperty: true })
      const all = [...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
      return all.filter((one) => shown(one) && !(one as HTMLButtonElement).disabled).length
    })
    expect(wanted).toBeGreaterThan(25)
    expect(reached.size).toBe(wanted)
    expect(unmarked).toBe(0)
  })
})
