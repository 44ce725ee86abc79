import { describe, expect, it } from 'vitest'
import { createFakeSource } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, DESK, PHONE, whole } from './browser.js'

const chromium = needs('chromium')

describe.skipIf(chromium === null)('checking the sensors (needs chromium)', () => {
  const stage = createStage(chromium)

  it('walks through connecting a board when none has spoken yet', async () => {
    const source = createFakeSource()
    source.alarmsOf.clear()
    source.factsOf.set('juniper', null)
    const { page, complaints } = await stage.open(source, PHONE)
    await page.waitForSelector('#sensors .signals details')
    const first = (await page.textContent('#sensors')) ?? ''
    expect(first).toContain('host 192.0.2.10, port 1883, topic water/juniper/tank-board')
    expect(first).toContain('sightglass account add tank-board --role board --config FILE')
    expect(first).toContain('-t water/juniper/tank-board -m \'[{"n":"tank-level","u":"m","v":1}')
    // It comes before everything that has nothing to show yet.
    const order = await page.evaluate(() => [...document.querySelectorAll('main > section')].map(({ id }) => id))
    expect(order[0]).toBe('sensors')
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(360)
    expect(complaints).toEqual([])
  })

  it('compares with a dip-stick and writes the line that puts it right', async () => {
    const { page, complaints } = await stage.open(createFakeSource(), DESK)
    await whole(page)
    await page.click('text=Check the sensors, connect a board')
    const level = page.locator('#sensors [data-key=tank-level]')
    await level.locator('summary').click()
    expect(await level.textContent()).toContain('Unit and range, in order')
    await level.getByLabel('By the dip-stick, in').fill('38')
    await level.getByRole('button', { name: 'Compare level of the tank' }).click()
    await level.locator('text=too high').waitFor()
    const code = await page.textContent('#sensors pre:has-text("offset")')
    expect(code).toMatch(/^boards:\n {2}tank-board:\n {4}signals:\n {6}tank-level:\n {8}offset: -0\.\d+/)
    expect(complaints).toEqual([])
  })

  it('takes a reading at rest as zero, and turns a current round', async () => {
    const { page } = await stage.open(createFakeSource(), DESK)
    await whole(page)
    await page.click('text=Check the sensors, connect a board')
    const pump = page.locator('#sensors [data-key=pump-current]')
    await pump.locator('summary').click()
    await pump.getByRole('button', { name: 'take this as zero' }).click()
    await page.waitForSelector('#sensors pre:has-text("offset: -")')
    await pump.getByRole('button', { name: 'wrong way round' }).click()
    await page.waitForSelector('#sensors pre:has-text("scale: -1")')
  })
})
