import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import { createFakeSource, OWNER } from '../show/fake-source.js'
import { needs } from '../support/needs.js'
import { createStage, PHONE, PATIENCE, whole } from './browser.js'

const chromium = needs('chromium')

/** As if the page had last been open two days ago. */
async function keptTwoDaysEarlier(page: Page): Promise<void> {
  await page.evaluate(async () => {
    const store = await caches.open('last-known')
    for (const request of await store.keys()) {
      const found = await store.match(request)
      const at = Number(found?.headers.get('x-kept-at')) - 2 * 86_400_000
      await store.put(request, new Response(await found?.text(), { headers: { 'x-kept-at': String(at) } }))
    }
  })
}

describe.skipIf(chromium === null)('the page without a link (needs chromium)', () => {
  const stage = createStage(chromium)

  it('opens all the same, shows what was last known, and says that it is old', async () => {
    const { page, served } = await stage.open(createFakeSource(), PHONE)
    await whole(page)
    await page.evaluate(() => navigator.serviceWorker.ready)
    await expect.poll(() => page.evaluate(() => caches.has('last-known')), PATIENCE).toBe(true)
    await served.app.close()
    await keptTwoDaysEarlier(page)
    await page.reload()
    await page.waitForSelector('text=This page does not reach the daemon.')
    expect(await page.textContent('#lost')).toContain('What it shows is from Tue 3 Feb 14:05.')
    expect(await page.textContent('#age')).toContain('last heard 2\u00a0d ago')
    expect(await page.textContent('h1')).toBe(
      'Last known, from Tue 3 Feb 14:05: Water has stopped arriving: the well may be dry, since 13:31.',
    )
    expect(await page.evaluate(() => document.documentElement.dataset.verdict)).toBe('old')
    expect(await page.title()).toBe('○ Juniper Bench')
    expect(await page.textContent('#section svg')).toContain('314\u00a0gal')
    await whole(page)
    await page.click('text=I have seen it')
    await page.waitForSelector('text=That was not done.')
  })

  it('is not old any more when the daemon answers again', async () => {
    const { page } = await stage.open(createFakeSource(), PHONE)
    await whole(page)
    await page.route('**/api/**', (route) => route.abort())
    await page.evaluate(() => document.dispatchEvent(new Event('visibilitychange')))
    await page.waitForSelector('h1:text("Last known")')
    await page.unroute('**/api/**')
    await page.evaluate(() => document.dispatchEvent(new Event('visibilitychange')))
    await page.waitForSelector('h1:text-is("Water has stopped arriving: the well may be dry, since 13:31.")')
    expect(await page.isVisible('#lost')).toBe(false)
  })

  it('forgets what it kept when somebody signs out', async () => {
    const { page } = await stage.open(createFakeSource(), PHONE, '/', 'accounts')
    await page.fill('#name', OWNER.name)
    await page.fill('#secret', OWNER.secret)
    await page.keyboard.press('Enter')
    await whole(page)
    await expect.poll(() => page.evaluate(() => caches.has('last-known')), PATIENCE).toBe(true)
    await page.click('text=Sign out ops')
    await page.waitForSelector('#secret')
    await expect.poll(() => page.evaluate(() => caches.has('last-known')), PATIENCE).toBe(false)
  })

  it('can be installed: a manifest with icons that are there, and a worker', async () => {
    const { page, served } = await stage.open(createFakeSource(), PHONE)
    const manifest = (await (await fetch(`${served.url}/manifest.webmanifest`)).json()) as {
      display: string
      icons: { src: string; sizes: string; type: string }[]
    }
    expect(manifest.display).toBe('standalone')
    for (const { src, sizes, type } of manifest.icons) {
      const answer = await fetch(served.url + src)
      expect([answer.status, answer.headers.get('content-type')]).toEqual([200, type])
      if (type !== 'image/png') continue
      // Width and height stand in the first chunk (W3C PNG, 11.2.1).
      const bytes = Buffer.from(await answer.arrayBuffer())
      expect(`${bytes.readUInt32BE(16)}x${bytes.readUInt32BE(20)}`).toBe(sizes)
    }
    await whole(page)
    const script = await page.evaluate(async () => (await navigator.serviceWorker.ready).active?.scriptURL)
    expect(script).toBe(`${served.url}/worker.js`)
    const client = await page.context().newCDPSession(page)
    const { errors } = (await client.send('Page.getAppManifest')) as { errors: unknown[] }
    expect(errors).toEqual([])
  })

  it('shows what is pushed, and a later word on the same alarm in its place', async () => {
    const { page, served } = await stage.open(createFakeSource(), PHONE)
    await page.context().grantPermissions(['notifications'], { origin: served.url })
    await whole(page)
    await page.evaluate(() => navigator.serviceWorker.ready)
    const client = await page.context().newCDPSession(page)
    const registered = new Promise<string>((resolve) => {
      client.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
        const [first] = registrations
        if (first !== undefined) resolve(first.registrationId)
      })
    })
    await client.send('ServiceWorker.enable')
    const registrationId = await registered
    const push = (kind: string, subject: string): Promise<unknown> =>
      client.send('ServiceWorker.deliverPushMessage', {
        origin: served.url,
        registrationId,
        data: JSON.stringify({
          version: 1,
          id: 'x1',
          kind,
          site: 'juniper',
          alarm: 'dry-well:well',
          priority: 'high',
          subject,
          short: 'The well may be dry since 13:31.',
        }),
      })
    const shown = (): Promise<unknown> =>
      page.evaluate(async () => {
        const worker = await navigator.serviceWorker.ready
        return (await worker.getNotifications()).map(({ title, body, tag, data }) => ({ title, body, tag, data }))
      })
    const note = { body: 'The well may be dry since 13:31.', tag: 'juniper dry-well:well', data: '/?site=juniper' }
    await push('alarm', 'Juniper Bench: no water comes')
    await expect.poll(shown, PATIENCE).toEqual([{ title: 'Juniper Bench: no water comes', ...note }])
    await push('all-clear', 'Juniper Bench: water comes again')
    await expect.poll(shown, PATIENCE).toEqual([{ title: 'Juniper Bench: water comes again', ...note }])
  })
})
