import { readQuantity } from '../config/quantity.js'
import { latestState, SHORT_DAYS_ALLOWED, sizingInput } from '../daemon/sizing-desk.js'
import { sizing } from '../infer/sizing/size.js'
import type { SizingResult } from '../model/sizing.js'
import { openStore } from '../record/store.js'
import { sizingBody } from '../show/bodies/sizing.js'
import { sizingText } from '../show/words/sizing.js'
import { progress } from './progress.js'
import { Failed, oneSite, readConfig, type Surroundings, WrongWords } from './words.js'

export type SizeWords = {
  readonly config: string
  readonly site?: string
  readonly need?: string
  readonly shortDays?: number
  readonly json?: boolean
}

/** `size`: panel and battery options from the site's own stored days, read beside a running daemon. */
export function sizeVerb(words: SizeWords, world: Surroundings): number {
  const settings = readConfig(words.config)
  const site = oneSite(settings, words.site)
  const needL = words.need === undefined ? null : litres(words.need)
  const store = openStore({ file: settings.store.file, now: world.clock.now(), readOnly: true })
  try {
    const ask = { needL, shortDaysAllowed: words.shortDays ?? SHORT_DAYS_ALLOWED }
    const result = worked(sizing(sizingInput(store, site, latestState(store, site), ask)), world)
    const text = words.json === true ? `${JSON.stringify(sizingBody(result), null, 2)}\n` : sizingText(result, site)
    world.out(text)
    return 0
  } finally {
    store.close()
  }
}

function litres(words: string): number {
  const read = readQuantity(words, 'volume', { above: 0, max: 1e6 })
  if (read.ok) return read.value
  throw new WrongWords(`--need "${words}" ${read.message}: expected ${read.expected}`)
}

/** Runs a sizing to its end with a word on the way. */
export function worked(work: Generator<number, SizingResult>, world: Surroundings): SizingResult {
  const bar = progress(world, 1)
  try {
    for (let step = work.next(); ; step = work.next()) {
      if (step.done === true) return step.value
      const done = step.value
      bar.to(done, () => 'living through resampled years')
      if (world.stop.aborted) throw new Failed('stopped; nothing was changed')
    }
  } finally {
    bar.end()
  }
}
