import { latestState, sizingInput, USUAL_ASK } from '../daemon/sizing-desk.js'
import { sizing } from '../infer/sizing/size.js'
import { openStore } from '../record/store.js'
import { sizingBody } from '../show/bodies/sizing.js'
import { monthOf, monthOver } from '../show/report/period.js'
import { readReport } from '../show/report/read.js'
import { reportForm } from '../show/report/words.js'
import { toHtml, toText } from '../tell/sections.js'
import { worked } from './size.js'
import { oneSite, readConfig, type Surroundings, WrongWords } from './words.js'

export type ReportWords = {
  readonly config: string
  readonly site?: string
  readonly month?: string
  readonly format: 'html' | 'text'
}

/** `report`: a month of a place on one page, read beside a running daemon. */
export function reportVerb(words: ReportWords, world: Surroundings): number {
  const settings = readConfig(words.config)
  const site = oneSite(settings, words.site)
  const now = world.clock.now()
  const month = words.month ?? monthOver(now, site.timezone)
  const period = monthOf(month, site.timezone)
  if (period === null) throw new WrongWords(`--month: found "${month}", expected a month such as 2026-02`)
  if (period.from > now) throw new WrongWords(`--month: ${period.name} has not begun`)
  const store = openStore({ file: settings.store.file, now, readOnly: true })
  try {
    const sizes = worked(sizing(sizingInput(store, site, latestState(store, site), USUAL_ASK)), world)
    const form = reportForm(readReport(store, site, period, now), sizingBody(sizes))
    world.out(words.format === 'html' ? `${toHtml(form)}\n` : toText(form))
    return 0
  } finally {
    store.close()
  }
}
