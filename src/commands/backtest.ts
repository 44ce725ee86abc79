import { backtest } from '../daemon/backtest.js'
import type { DaemonSettings } from '../model/settings.js'
import { openStore } from '../record/store.js'
import { backtestLines, backtestRecord, NOT_IN_HISTORY } from './backtest-lines.js'
import { progress } from './progress.js'
import { Failed, instant, readConfig, type Surroundings, WrongWords } from './words.js'

export type BacktestWords = {
  readonly config: string
  readonly with: string
  readonly from?: string
  readonly to?: string
  readonly json?: boolean
}

/**
 * `backtest`: what the alarms would have said over stored history under another configuration, beside what they said.
 * The store is only read, also beside a running daemon. The same history and configurations give the same output.
 */
export async function backtestVerb(words: BacktestWords, world: Surroundings): Promise<number> {
  const settings = readConfig(words.config)
  const proposed = readConfig(words.with)
  const from = words.from === undefined ? 0 : instant(words.from, '--from')
  const to = words.to === undefined ? Number.MAX_SAFE_INTEGER : instant(words.to, '--to')
  if (to <= from) throw new WrongWords(`--to ${words.to}: expected a time after --from ${words.from ?? ''}`)
  const left = leftOut(settings, proposed)
  const store = openStore({ file: settings.store.file, now: world.clock.now(), readOnly: true })
  const bar = progress(world, settings.sites.length)
  let sitesDone = 0
  let latest = settings.sites[0]?.id
  try {
    const found = await backtest(store, settings.sites, proposed.sites, from, to, {
      eachPiece(site, at, { first, last }) {
        if (world.stop.aborted) throw new Failed('stopped before the end; nothing was changed')
        if (site.id !== latest) {
          latest = site.id
          sitesDone += 1
        }
        const share = (at - first) / Math.max(1, last - first)
        bar.to(sitesDone + share, () => `${site.id} ${new Date(at).toISOString().slice(0, 10)}`)
        // A signal is heard only between two turns of the loop.
        return new Promise((resolve) => setImmediate(resolve))
      },
    })
    bar.end()
    if (words.json === true) {
      const sites = found.map(backtestRecord)
      world.out(`${JSON.stringify({ sites, sitesLeftOut: left, notInHistory: NOT_IN_HISTORY })}\n`)
      return 0
    }
    for (const one of found) {
      const site = settings.sites.find(({ id }) => id === one.site)
      if (site !== undefined) world.out(`${backtestLines(site, one).join('\n')}\n\n`)
    }
    if (found.length === 0) world.out('no samples are stored: nothing to compare\n\n')
    if (left.length > 0) world.out(`only in one of the two configurations, left out: ${left.join(', ')}\n`)
    world.out(`${NOT_IN_HISTORY.join('\n')}\n`)
    return 0
  } finally {
    bar.end()
    store.close()
  }
}

/** Sites that only one of the two has; when they have none in common the words are wrong. */
function leftOut(settings: DaemonSettings, proposed: DaemonSettings): readonly string[] {
  const ours = settings.sites.map(({ id }) => id)
  const theirs = proposed.sites.map(({ id }) => id)
  if (!ours.some((id) => theirs.includes(id))) {
    throw new WrongWords(`--with: found ${theirs.join(', ')}, expected a configuration of ${ours.join(', ')}`)
  }
  return [...ours.filter((id) => !theirs.includes(id)), ...theirs.filter((id) => !ours.includes(id))]
}
