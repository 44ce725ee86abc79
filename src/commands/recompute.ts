import { deriveFrom, quietLine } from './derive.js'
import { instant, ownStore, readConfig, type Surroundings } from './words.js'

/**
 * `recompute`: cycles, days and what was learned, derived again from stored samples. What follows `--from` rests on
 * what comes before, so everything from there on is derived; `--to` is taken only to catch mistakes in words.
 */
export function recompute(
  words: { readonly config: string; readonly from?: string; readonly to?: string; readonly logLevel: string },
  world: Surroundings,
): number {
  const settings = readConfig(words.config)
  const from = words.from === undefined ? 0 : instant(words.from, '--from')
  if (words.to !== undefined) instant(words.to, '--to')
  const store = ownStore(settings, world)
  try {
    const line = quietLine(settings, store, words.logLevel)
    deriveFrom(line, store, new Map(settings.sites.map((site) => [site.id, from])), world)
    for (const site of settings.sites) {
      const fills = store.cycles.list(site.id, 0, Number.MAX_SAFE_INTEGER, 1_000_000).length
      world.out(`${site.id}: ${fills} fills, ${store.days.list(site.id, '0000', '9999').length} days\n`)
    }
    return 0
  } finally {
    store.close()
  }
}
