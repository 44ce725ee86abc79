/** A process that works an outbox until it is empty or killed. Words: store file, webhook address. */
import { openStore } from '../../../src/record/store.js'
import { createTeller } from '../../../src/tell/teller.js'
import { openWays } from '../../../src/tell/ways/index.js'
import { HOOK, OPS, SILENT_LOG, siteSettings, tellSettings } from '../support.js'

const [file = '', url = ''] = process.argv.slice(2)
const ways = [{ ...HOOK, kind: 'webhook' as const, url, secret: 'a shared secret' }]
const site = siteSettings({ tell: tellSettings({ people: [{ ...OPS, ways: ['hook-1'], quiet: null }], ways }) })
const now = () => Date.now()
const store = openStore({ file, now: now() })
const teller = createTeller({
  store,
  sites: [site],
  ways: openWays([site], { now, publish: async () => {} }),
  clock: { now },
  log: SILENT_LOG,
})
while (store.outbox.counts().waiting > 0) {
  await teller.tick(now())
  await new Promise((resolve) => setTimeout(resolve, 20))
}
store.close()
