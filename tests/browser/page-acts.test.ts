import { describe, expect, it } from 'vitest'
import { NOW } from '../show/fake-site.js'
import { createFakeSource, OWNER, VIEWER } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, DESK, PHONE, whole } from './browser.js'

const chromium = needs('chromium')

describe.skipIf(chromium === null)('working with the page (needs chromium)', () => {
  const stage = createStage(chromium)

  it('acknowledges an alarm by a click, and shows who has seen it', async () => {
    const source = createFakeSource()
    const { page, complaints } = await stage.open(source, PHONE)
    await page.click('text=I have seen it')
    await page.waitForSelector('text=seen by owner')
    expect(source.acts).toEqual(['acknowledge juniper dry-well:well owner'])
    expect(await page.locator('text=I have seen it').count()).toBe(0)
    expect(complaints).toEqual([])
  })

  it('can be worked with the keyboard alone', async () => {
    const source = createFakeSource()
    const { page } = await stage.open(source, DESK)
    await page.waitForSelector('.alarm button')
    for (let n = 0; n < 20; n += 1) {
      await page.keyboard.press('Tab')
      if ((await page.evaluate(() => document.activeElement?.textContent)) === 'I have seen it') break
    }
    const outline = await page.evaluate(() => getComputedStyle(document.activeElement ?? document.body).outlineStyle)
    expect(outline).toBe('solid')
    await page.keyboard.press('Enter')
    await page.waitForSelector('text=seen by owner')
  })

  it('puts an alarm aside with a reason', async () => {
    const source = createFakeSource()
    const { page } = await stage.open(source, PHONE)
    await page.click('text=Put it aside for a time')
    await page.selectOption('select[name=minutes]', { label: '4 hours' })
    await page.fill('input[name=reason]', 'the pump is out')
    await page.click('button:text("Put aside")')
    await expect.poll(() => source.acts).toEqual(['shelve juniper dry-well:well 14400000 the pump is out owner'])
  })

  it('follows what happens without being asked, and leaves alone what somebody is writing', async () => {
    const source = createFakeSource()
    const { page } = await stage.open(source, DESK)
    await whole(page)
    await page.fill('#entry', 'half a senten')
    source.alarmsOf.clear()
    await expect.poll(() => source.listeners).toBe(1)
    source.emit({ site: 'juniper', kind: 'now', at: NOW })
    await page.waitForSelector('h1:text("All is well at Juniper Bench.")')
    expect(await page.isVisible('#wrong')).toBe(false)
    expect(await page.inputValue('#entry')).toBe('half a senten')
    await page.click('text=Write it down')
    await page.waitForSelector('#journal li:has-text("half a senten")')
    expect(source.journalRows.at(-1)).toMatchObject({ text: 'half a senten', newBaseline: false })
  })

  it('says so when it does not reach the daemon any more, and from when its figures are', async () => {
    const { page, served } = await stage.open(createFakeSource(), PHONE)
    await whole(page)
    await served.app.close()
    await page.waitForSelector('text=This page does not reach the daemon. What it shows is from 14:05.')
  })

  it('asks to sign in, refuses a wrong secret in words, and shows a viewer nothing to press', async () => {
    const { page } = await stage.open(createFakeSource(), PHONE, '/', 'accounts')
    await page.fill('#name', VIEWER.name)
    await page.fill('#secret', 'wrong')
    await page.click('button:text("Sign in")')
    await page.waitForSelector('text=Name and secret do not fit together')
    await page.fill('#secret', VIEWER.secret)
    await page.click('button:text("Sign in")')
    await whole(page)
    // What is left to press changes only what is looked at.
    expect(await page.locator('main > section:not(#day):not(#fills) button').count()).toBe(0)
    expect(await page.locator('#entry').count()).toBe(0)
    await page.click('text=Sign out neighbour')
    await page.waitForSelector('#secret')
    await page.fill('#name', OWNER.name)
    await page.fill('#secret', OWNER.secret)
    await page.keyboard.press('Enter')
    await page.waitForSelector('text=I have seen it')
    expect(await page.locator('#entry').count()).toBe(1)
  })

  it('acknowledges from the link of a message, without script', async () => {
    const source = createFakeSource()
    const { page, complaints } = await stage.open(source, { ...PHONE, javaScriptEnabled: false }, '/ack/good-token.tag')
    expect(source.acts).toEqual([])
    await page.click('button')
    await page.waitForSelector('h1:text("Acknowledged")')
    expect(source.acts).toEqual(['link'])
    expect(complaints).toEqual([])
  })
})
