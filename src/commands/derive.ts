/** Deriving again, for `import` and `recompute`: the stored samples through the engine, with nobody told. */
import { Line } from '../daemon/line.js'
import type { DaemonSettings } from '../model/settings.js'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import { progress } from './progress.js'
import { Failed, logFor, type Surroundings } from './words.js'

export function quietLine(settings: DaemonSettings, store: Store, logLevel: string): Line {
  return new Line({ sites: settings.sites, store, log: logFor(logLevel), judging: false, link: () => null })
}

/** Derives every site from its entry in `from` on, up to its last sample. Safe to stop and begin again. */
export function deriveFrom(line: Line, store: Store, from: ReadonlyMap<string, Ms>, world: Surroundings): void {
  for (const site of line.sites) {
    const start = from.get(site.site.id)
    if (start === undefined) continue
    const last = site.series.reduce((latest, one) => Math.max(latest, store.lastSample(one)?.t ?? 0), 0)
    if (last === 0) continue
    const bar = progress(world, Math.max(1, last - start))
    site.deriveAgain(start, last + LIMITS.tickMs, (at) => {
      bar.to(at - start, () => `${site.site.id} ${new Date(at).toISOString().slice(0, 10)}`)
      line.write(site, at)
      if (world.stop.aborted) throw new Failed('stopped; begin again with recompute, nothing is lost')
    })
    line.write(site, last)
    bar.end()
  }
}
