import { describe, expect, it } from 'vitest'
import { createFakeSource, VIEWER } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, PHONE, whole } from './browser.js'

const chromium = needs('chromium')
const OPEN = 'summary:has-text("Alarms: what each")'

describe.skipIf(chromium === null)('another setting (needs chromium)', () => {
  const stage = createStage(chromium)

  it('is tried beneath its alarm, in minutes, and what would have differed is said', async () => {
    const source = createFakeSource()
    const { page, complaints } = await stage.open(source, PHONE)
    await whole(page)
    await page.click(OPEN)
    const part = page.locator('#alarms details[data-id="dry-well"]')
    await part.locator('> summary').click()
    await part.locator('details.try > summary').click()
    expect(await part.getByLabel('if it were').inputValue()).toBe('1')
    await part.getByLabel('if it were').fill('13')
    await part.getByLabel('if it were').press('Enter')
    await page.waitForSelector('#alarms .try li:has-text("later: Water has stopped arriving")')
    expect(source.acts).toEqual(['backtest juniper dry-well {"on_delay":780}'])
    const said = (await part.locator('[role=status]').textContent()) ?? ''
    expect(said).toContain('2 alarms and 3 messages as it is set, 1 alarm and 1 message with this')
    expect(said).toContain('12\u00a0min later')
    expect(said).toContain('Not raised: Water has stopped arriving')
    await part.locator('select').selectOption('light_ratio')
    expect(await part.getByLabel('if it were').inputValue()).toBe('0.8')
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(360)
    expect(complaints).toEqual([])
  })

  it('that cannot be tried now is said to be so', async () => {
    const source = createFakeSource()
    const { page } = await stage.open(source, PHONE)
    await whole(page)
    await page.click(OPEN)
    const part = page.locator('#alarms details[data-id="dry-well"]')
    await part.locator('> summary').click()
    await part.locator('details.try > summary').click()
    await part.getByLabel('if it were').fill('8000000')
    await part.getByText('Try it').click()
    await page.waitForSelector('#alarms .try .caution:has-text("It could not be tried. on_delay is 480000000")')
    expect(await part.getByText('Try it').isEnabled()).toBe(true)
  })

  it('is not offered to a viewer', async () => {
    const { page } = await stage.open(createFakeSource(), PHONE, '/', 'accounts')
    await page.getByLabel('Name').fill(VIEWER.name)
    await page.locator('input[type=password]').fill(VIEWER.secret)
    await page.keyboard.press('Enter')
    await whole(page)
    await page.click(OPEN)
    await page.waitForSelector('#alarms .signals details')
    expect(await page.locator('#alarms details.try').count()).toBe(0)
  })
})
