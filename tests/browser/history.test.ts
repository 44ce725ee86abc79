import { readFile } from 'node:fs/promises'
import { describe, expect, it } from 'vitest'
import { DAY } from '../../src/model/time.js'
import { JUNIPER, NOW } from '../show/fake-site.js'
import { createFakeSource, type FakeSource } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, DESK, PHONE, whole } from './browser.js'

const chromium = needs('chromium')

type Asked = { key: string; from: number; to: number; points: number }

/** Notes which curves the page asks for. */
function watched(): { source: FakeSource; asked: Asked[] } {
  const source = createFakeSource()
  const asked: Asked[] = []
  const { chart } = source
  const noting: FakeSource['chart'] = (site, key, from, to, points) => {
    asked.push({ key, from, to, points })
    return chart(site, key, from, to, points)
  }
  return { source: Object.assign(source, { chart: noting }), asked }
}

describe.skipIf(chromium === null)('history (needs chromium)', () => {
  const stage = createStage(chromium)

  it('shows any span from an hour to years, and earlier and later ones', async () => {
    const { source, asked } = watched()
    const { page, complaints } = await stage.open(source, DESK)
    await whole(page)
    for (const [words, days] of [
      ['1 hour', 1 / 24],
      ['1 month', 30],
      ['4 years', 1461],
    ] as const) {
      asked.length = 0
      await page.click(`#day button:text-is("${words}")`)
      await page.waitForSelector(`#day button[aria-pressed=true]:text-is("${words}")`)
      await expect.poll(() => asked.length).toBe(3)
      expect((asked[0]?.to ?? 0) - (asked[0]?.from ?? 0)).toBe(days * DAY)
      expect(asked[0]?.points).toBeLessThanOrEqual(400)
    }
    await page.click('#day button:text-is("1 day")')
    asked.length = 0
    await page.click('#day button:text-is("Earlier")')
    await expect.poll(() => asked[0]?.to).toBe(NOW - DAY / 2)
    expect(await page.textContent('#span-words')).toBe('Mon 2 Feb 02:05 to Tue 3 Feb 02:05')
    await page.click('#day button:text-is("Later")')
    await page.waitForSelector('#span-words:has-text("to now")')
    expect(await page.isDisabled('#day button:text-is("Later")')).toBe(true)
    expect(complaints).toEqual([])
  })

  it('is read by keyboard: time, value with its doubt, and what it was between; a silence is said', async () => {
    const { page } = await stage.open(createFakeSource(), PHONE)
    await whole(page)
    const slider = page.getByLabel('Read the curves at')
    await slider.focus()
    await page.keyboard.press('Home')
    const said = await slider.getAttribute('aria-valuetext')
    expect(said).toMatch(
      /^Mon 2 Feb 14:05: Level of the tank \d+\.\d\u00a0in ± 0\.\d+ \(\d+\.\d to \d+\.\d\u00a0in\); Pump/,
    )
    await page.keyboard.press('ArrowRight')
    expect(await slider.getAttribute('aria-valuetext')).not.toBe(said)
    expect(await page.textContent('#day figure[data-key=pump-current] .readout')).toContain('A ±')
    // The made-up boards were silent between 11 h and 10 h 10 min before now.
    await slider.fill(String(Math.round((1 - 10.6 / 24) * 1000)))
    expect(await page.textContent('#day figure[data-key=tank-level] .readout')).toContain(
      'not known, nothing was heard',
    )
  })

  it('marks fills, alarms and log entries, and lists them', async () => {
    const { source } = watched()
    const { page } = await stage.open(source, DESK)
    await whole(page)
    await page.click('#day button:text-is("1 month")')
    await page.waitForSelector('#day button[aria-pressed=true]:text-is("1 month")')
    await page.waitForSelector('#marks')
    await page.click('#marks summary')
    const rows = await page.locator('#marks tbody tr').allTextContents()
    expect(rows.some((row) => row.includes('Fill') && row.includes('gal'))).toBe(true)
    expect(rows.some((row) => row.includes('Alarm') && row.includes('Water has stopped arriving'))).toBe(true)
    expect(rows.some((row) => row.includes('Log') && row.includes('Cleaned the array.'))).toBe(true)
  })

  it('gives the shown span as CSV, in SI, with the silences', async () => {
    const { page } = await stage.open(createFakeSource(), DESK)
    await whole(page)
    await page.click('text=Other days, other curves, download')
    const waiting = page.waitForEvent('download')
    await page.click('text=Download as CSV')
    const download = await waiting
    expect(download.suggestedFilename()).toBe('juniper-2026-02-02-2026-02-03.csv')
    const lines = (await readFile(await download.path(), 'utf8')).split('\r\n')
    expect(lines[0]).toBe('from,to,from_local,name,least,mean,greatest,samples,unit')
    expect(lines.filter((line) => line.includes(',tank-level,')).length).toBeGreaterThan(200)
    expect(lines.some((line) => /,tank-level,,,,0,m$/.test(line))).toBe(true)
  })

  it('shows other signals, and days that somebody names', async () => {
    const { source, asked } = watched()
    const { page } = await stage.open(source, PHONE)
    await whole(page)
    await page.click('text=Other days, other curves, download')
    await page.getByLabel('Air temperature').check()
    await page.waitForSelector('#day figure[data-key=air-temperature] .uplot')
    asked.length = 0
    await page.getByLabel('From', { exact: true }).fill('2026-01-10')
    await page.getByLabel('to', { exact: true }).fill('2026-01-11')
    await page.click('text=Show these days')
    await expect.poll(() => asked.length).toBe(4)
    // Midnight in Denver is 07:00 UTC in winter.
    expect(new Date(asked[0]?.from ?? 0).toISOString()).toBe('2026-01-10T07:00:00.000Z')
    expect(new Date(asked[0]?.to ?? 0).toISOString()).toBe('2026-01-12T07:00:00.000Z')
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(360)
  })
})

describe.skipIf(chromium === null)('upkeep and the log (needs chromium)', () => {
  const stage = createStage(chromium)
  const upkeep = [
    { name: 'water filter', everyDays: 90 },
    { name: 'tank cleaning', everyDays: 730 },
  ]

  it('says what is due, notes it as done, and offers its names where the log is written', async () => {
    const source = createFakeSource([{ ...JUNIPER, upkeep }])
    const at = NOW - 100 * DAY
    source.journalRows.unshift({
      id: 9,
      site: 'juniper',
      at,
      by: 'ops',
      text: 'x',
      newBaseline: false,
      upkeep: 'water filter',
    })
    const { page, complaints } = await stage.open(source, PHONE)
    await whole(page)
    await page.waitForSelector('#upkeep strong:has-text("Due since Sat 24 Jan")')
    await page.click('#upkeep button[aria-label="water filter: done"]')
    await expect.poll(() => source.journalRows.at(-1)?.upkeep).toBe('water filter')
    await page.waitForSelector('#upkeep td:has-text("Mon 4 May")')
    expect(await page.locator('#upkeep strong').count()).toBe(0)
    await page.getByLabel('It was upkeep').selectOption('tank cleaning')
    await page.click('text=Write it down')
    await page.waitForSelector('#journal li:has-text("Tank cleaning: done")')
    expect(source.journalRows.at(-1)).toMatchObject({ upkeep: 'tank cleaning', text: 'Tank cleaning: done' })
    await page.fill('#entry', 'New pump set at 190 ft')
    await page.getByLabel('What was usual no longer holds').check()
    await page.click('text=Write it down')
    await page.waitForSelector('#journal li:has-text("learning anew from here")')
    expect(source.journalRows.at(-1)).toMatchObject({ upkeep: null, newBaseline: true })
    expect(complaints).toEqual([])
  })
})

describe.skipIf(chromium === null)('fills (needs chromium)', () => {
  const stage = createStage(chromium)

  it.each([
    ['a phone', PHONE],
    ['a desk', DESK],
  ])(
    'on %s show how they have changed, and one opened beside those before it with its data',
    async (_name, options) => {
      const { page, complaints } = await stage.open(createFakeSource(), options)
      await whole(page)
      const names = await page.locator('#fills svg.trend title').allTextContents()
      expect(names).toHaveLength(3)
      expect(names[0]).toMatch(/^Length of a fill of 12 fills since Sun 18 Jan 14:22: /)
      await page.locator('#fills button[aria-label="Open the fill of Fri 23 Jan 22:22"]').press('Enter')
      await page.waitForSelector('#one-fill h3:text("The fill of Fri 23 Jan 22:22")')
      expect(await page.locator('#one-fill svg path.course.other').count()).toBe(2 * 3)
      await page.click('#one-fill summary:has-text("Rise of the level")')
      expect(await page.locator('#one-fill table tbody tr').count()).toBeGreaterThan(5)
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(
        options.viewport.width,
      )
      await page.click('text=Shut this fill')
      expect(await page.isVisible('#one-fill')).toBe(false)
      expect(complaints).toEqual([])
    },
  )
})
