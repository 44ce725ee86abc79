import { readFileSync } from 'node:fs'
import type { BrokerSettings } from '../model/settings.js'
import { tellTest } from '../tell/tell-test.js'
import { openWays } from '../tell/ways/index.js'
import { Failed, readConfig, type Surroundings } from './words.js'

const CONNECT_MS = 10_000

/** `tell-test`: a marked test message through every way of telling, and what each answered. Exit 1 if one failed. */
export async function tellTestVerb(words: { readonly config: string }, world: Surroundings): Promise<number> {
  const settings = readConfig(words.config)
  const { clock, out } = world
  const ways = openWays(settings.sites, {
    now: () => clock.now(),
    publish: (topic, payload, options) => publishOnce(settings.broker, topic, payload, options?.retain === true),
  })
  let failures = 0
  for (const site of settings.sites) {
    const own = settings.broker.kind === 'embedded' ? site.tell.ways.filter((way) => way.kind === 'mqtt') : []
    const from = {
      ...site,
      tell: {
        ...site.tell,
        ways: site.tell.ways.filter((way) => way.kind !== 'web-push' && !own.some((one) => one.id === way.id)),
      },
    }
    const results = await tellTest(from, { ways, now: clock.now() })
    if (site.tell.ways.length === 0) out(`${site.id}: no way of telling is configured\n`)
    // Only the daemon may speak on its own broker's topics; a second client could prove nothing about it.
    for (const way of own)
      out(`${site.id}  ${way.id} (mqtt): not tested from here, the daemon's own broker carries it\n`)
    for (const way of site.tell.ways.filter(({ kind }) => kind === 'web-push'))
      out(`${site.id}  ${way.id} (web-push): not tested from here, the daemon knows the browsers; ask on the page\n`)
    for (const { way, kind, people, ok, error } of results) {
      out(`${site.id}  ${way} (${kind}, to ${people.join(', ') || 'nobody'}): ${ok ? 'sent' : `failed: ${error}`}\n`)
      if (!ok) failures += 1
    }
  }
  if (failures > 0) throw new Failed(`${failures} ${failures === 1 ? 'way' : 'ways'} of telling failed`)
  return 0
}

/** One message over the configured broker, as a client of it; the running daemon is not needed for this. */
async function publishOnce(
  broker: BrokerSettings,
  topic: string,
  payload: string | Uint8Array,
  retain: boolean,
): Promise<void> {
  const { default: mqtt } = await import('mqtt')
  const external = broker.kind === 'external'
  const url = external ? broker.url : `mqtt://${broker.host}:${broker.port}`
  const client = await mqtt.connectAsync(
    url,
    {
      connectTimeout: CONNECT_MS,
      reconnectPeriod: 0,
      ...(external && broker.username !== null ? { username: broker.username } : {}),
      ...(external && broker.password !== null ? { password: broker.password } : {}),
      ...(external && broker.caFile !== null ? { ca: readFileSync(broker.caFile) } : {}),
    },
    false,
  )
  try {
    await client.publishAsync(topic, typeof payload === 'string' ? payload : Buffer.from(payload), { qos: 1, retain })
  } finally {
    await client.endAsync(true)
  }
}
