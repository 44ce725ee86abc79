import { describe, expect, it } from 'vitest'
import { juniperFacts } from '../show/fake-site.js'
import { BOTH_SITES, createFakeSource } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, DESK, PHONE, whole } from './browser.js'

/** Our own bound for the first view, compressed. */
const FIRST_VIEW_BYTES_MAX = 100_000

const chromium = needs('chromium')

describe.skipIf(chromium === null)('the page (needs chromium)', () => {
  const stage = createStage(chromium)

  it.each([
    ['a phone by day', { ...PHONE, colorScheme: 'light' as const }],
    ['a phone by night', { ...PHONE, colorScheme: 'dark' as const }],
    ['a desk by day', { ...DESK, colorScheme: 'light' as const }],
    ['a desk by night', { ...DESK, colorScheme: 'dark' as const }],
  ])('on %s shows all, scrolls only downwards, and the browser has nothing to complain of', async (_name, options) => {
    const { page, complaints } = await stage.open(createFakeSource(), options)
    await whole(page)
    expect(await page.textContent('h1')).toBe('Water has stopped arriving: the well may be dry, since 13:31.')
    expect(await page.textContent('#section svg')).toContain('314\u00a0gal')
    expect(await page.textContent('#section svg')).toContain('pump running for 23\u00a0min')
    expect(await page.locator('#day canvas').count()).toBe(3)
    expect(await page.textContent('#boards')).toContain('41 complete fills')
    const width = await page.evaluate(() => document.documentElement.scrollWidth)
    expect(width).toBeLessThanOrEqual(options.viewport.width)
    expect(complaints).toEqual([])
  })

  it('has one h1, a heading for each section in order, and a name for everything that can be pressed', async () => {
    const { page } = await stage.open(createFakeSource(), DESK)
    await whole(page)
    const found = await page.evaluate(() => {
      const levels = [...document.querySelectorAll('h1, h2, h3, h4')].map((one) => Number(one.tagName[1]))
      const nameless = [...document.querySelectorAll('button, input, select, textarea')].filter((one) => {
        const labels = (one as HTMLInputElement).labels
        return (one.textContent ?? '').trim() === '' && (labels === null || labels.length === 0)
      })
      const drawings = [...document.querySelectorAll('svg[role=img]')].map(
        (one) => one.querySelector('title')?.textContent,
      )
      return { levels, nameless: nameless.length, drawings, language: document.documentElement.lang }
    })
    expect(found.levels.filter((level) => level === 1)).toHaveLength(1)
    expect(found.levels.every((level, index) => level <= (found.levels[index - 1] ?? 0) + 1)).toBe(true)
    expect(found.nameless).toBe(0)
    expect(found.drawings.every((title) => (title ?? '').length > 20)).toBe(true)
    expect(found.language).toBe('en')
  })

  it('shows what others wrote as text and nothing else', async () => {
    const { page } = await stage.open(createFakeSource(), PHONE)
    await whole(page)
    expect(await page.textContent('#journal')).toContain('<img src=x onerror=')
    await page.click('text=Records that were not believed')
    expect(await page.textContent('#refused code')).toBe('<script>alert(1)</script>')
    expect(await page.locator('#journal img, #refused script').count()).toBe(0)
    expect(await page.title()).toBe('● Juniper Bench')
  })

  it('has a table behind each curve, with the hours of silence as not known', async () => {
    const { page } = await stage.open(createFakeSource(), DESK)
    await whole(page)
    await page.click('text=Pump current as a table')
    // The rows and the other curves come when their figures have come.
    await page.locator('#day figure table tbody tr').nth(23).waitFor({ state: 'attached' })
    await page.locator('#day figure details').nth(2).waitFor({ state: 'attached' })
    const rows = await page.locator('#day figure table tbody tr').allTextContents()
    expect(rows.length).toBeGreaterThanOrEqual(24)
    expect(rows[0]).toContain('A')
    expect(await page.locator('#day figure details').count()).toBe(3)
  })

  it('draws probes and says what is reckoned where no level is measured', async () => {
    const { page, complaints } = await stage.open(createFakeSource(BOTH_SITES), PHONE, '/?site=fern')
    await page.waitForSelector('#fills table')
    const drawing = await page.textContent('#section svg')
    expect(drawing).toContain('between low and high')
    expect(drawing).toContain('reckoned 1,180\u00a0l')
    expect(await page.locator('#section .probe').count()).toBe(3)
    expect(await page.locator('#section .probe.wet').count()).toBe(1)
    expect(await page.textContent('#glance')).toContain('reckoned from the last mark and the usual use, not measured')
    expect(await page.textContent('#boards')).toContain('Still learning what is usual here: 3 of 8 complete fills')
    expect(await page.textContent('h1')).toContain('pump-board has never been heard')
    expect(complaints).toEqual([])
  })

  it('goes to the first site where there are several and none is named, with links to all', async () => {
    const { page } = await stage.open(createFakeSource(BOTH_SITES), DESK)
    await page.waitForURL('**/?site=juniper')
    await page.waitForSelector('nav')
    expect(await page.locator('nav a').allTextContents()).toEqual(['Juniper Bench', 'Fern Hollow'])
  })

  it('calls the unknown not known, and never 0', async () => {
    const source = createFakeSource()
    source.alarmsOf.clear()
    const facts = juniperFacts()
    const water = {
      ...facts.water,
      levelM: null,
      levelSdM: null,
      volumeL: null,
      volumeSdL: null,
      highWet: null,
      hoursLeft: null,
    }
    source.factsOf.set('juniper', { ...facts, water, battery: { ...facts.battery, voltageV: null }, airC: null })
    const { page } = await stage.open(source, PHONE)
    await page.waitForSelector('#fills table')
    expect(await page.textContent('h1')).toBe('The water at Juniper Bench is not known.')
    const glance = (await page.textContent('#glance')) ?? ''
    expect(glance.match(/not known/g)?.length).toBeGreaterThanOrEqual(5)
    expect(glance).not.toMatch(/\b0(\.0+)?\u00a0(gal|in|V|°F)/)
    expect(await page.textContent('#section svg')).toContain('not known')
  })

  it('stands before anything has been heard', async () => {
    const source = createFakeSource()
    source.alarmsOf.clear()
    source.factsOf.set('juniper', null)
    const { page, complaints } = await stage.open(source, PHONE)
    await page.waitForSelector('#fills table')
    expect(await page.textContent('h1')).toBe('Nothing has been heard from Juniper Bench yet.')
    expect(complaints).toEqual([])
  })

  it('takes no more than 100 kB over the line for the first view', async () => {
    const { page, bytes } = await stage.open(createFakeSource(), PHONE)
    await whole(page)
    const sizes = await bytes()
    const total = sizes.reduce((sum, size) => sum + size, 0)
    expect(sizes.length).toBeGreaterThan(8)
    expect(total).toBeGreaterThan(20_000)
    expect(total).toBeLessThanOrEqual(FIRST_VIEW_BYTES_MAX)
  })
})
