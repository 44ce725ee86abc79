import { describe, expect, it } from 'vitest'
import { createFakeSource } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, DESK, PHONE, whole } from './browser.js'

const chromium = needs('chromium')

describe.skipIf(chromium === null)('how much panel and battery (needs chromium)', () => {
  const stage = createStage(chromium)

  it.each([
    ['a phone', PHONE],
    ['a desk', DESK],
  ])('on %s is worked out when it is opened, and scrolls only downwards', async (_name, options) => {
    const asked: string[] = []
    const source = createFakeSource()
    const { sizing } = source
    const watched = Object.assign(source, {
      sizing: (...words: Parameters<typeof sizing>) => {
        asked.push(words[0])
        return sizing(...words)
      },
    })
    const { page, complaints } = await stage.open(watched, options)
    await whole(page)
    expect(asked).toEqual([])
    await page.locator('#sizing summary').click()
    await page.locator('#sizing table').waitFor()
    expect(asked).toEqual(['juniper'])
    const text = (await page.textContent('#sizing')) ?? ''
    expect(text).toContain('440 W and 100 Ah, is short on 5.2 days a year (1.7 to 13)')
    expect(text).toContain('one in 3 years (0.1 to 0.8), the smallest that is enough')
    expect(text).toContain('No data covers March to September.')
    const width = await page.evaluate(() => document.documentElement.scrollWidth)
    expect(width).toBeLessThanOrEqual(options.viewport.width)
    expect(complaints).toEqual([])
  })

  it('says that it could not be worked out where it fails', async () => {
    const source = Object.assign(createFakeSource(), { sizing: async () => 'busy' as const })
    const { page } = await stage.open(source, PHONE)
    await whole(page)
    await page.locator('#sizing summary').click()
    await page.locator('#sizing .caution').waitFor()
    expect(await page.textContent('#sizing .caution')).toContain('It could not be worked out')
  })
})
