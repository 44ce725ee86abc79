import { join } from 'node:path'
import { startDaemon } from '../daemon/daemon.js'
import { logFor, readConfig, type Surroundings } from './words.js'

/** `run`: the daemon, until it is asked to stop. */
export async function run(
  words: { readonly config: string; readonly capture?: string; readonly logLevel: string },
  world: Surroundings,
): Promise<number> {
  const settings = readConfig(words.config)
  const log = logFor(words.logLevel)
  const daemon = await startDaemon({
    settings,
    clock: world.clock,
    log,
    version: world.version,
    pageDir: join(world.home, 'page'),
    ...(words.capture === undefined ? {} : { captureFile: words.capture }),
  })
  log.info(
    { page: daemon.pageAddress, broker: daemon.brokerAddress(), sites: settings.sites.map((site) => site.id) },
    'listening',
  )
  await new Promise<void>((done) => {
    if (world.stop.aborted) done()
    else world.stop.addEventListener('abort', () => done(), { once: true })
  })
  log.info({}, 'stopping')
  await daemon.stop()
  return 0
}
