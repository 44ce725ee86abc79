/** The month on paper: the HTML of a report is printed by a real browser, and the pages are counted. */
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { JournalEntry } from '../../src/model/modes.js'
import { DAY, HOUR } from '../../src/model/time.js'
import { sizingBody } from '../../src/show/bodies/sizing.js'
import { gatherReport, type Period, type ReportInput } from '../../src/show/report/gather.js'
import { monthOf } from '../../src/show/report/period.js'
import { reportForm } from '../../src/show/report/words.js'
import { type LongForm, toHtml } from '../../src/tell/sections.js'
import { fakeSizing } from '../show/fake-sizing.js'
import { cycles, days, JUNIPER } from '../show/fake-site.js'
import { needs } from '../support/needs.js'
import { alarm } from '../tell/support.js'
import { launch } from './browser.js'

const chromium = needs('chromium')
const JANUARY = monthOf('2026-01', JUNIPER.timezone) as Period
/** Titles of alarms are at most so long (see the judge's words). */
const TITLE_CHARS = 60

type Filler = (chars: number) => string
/** Words as people write them; and the widest letter without a space, which no place invites to break at. */
const PROSE: Filler = (chars) => 'Pulled the pump and found silt on the inlet; cleaned it, '.repeat(40).slice(0, chars)
const WIDE: Filler = (chars) => 'W'.repeat(chars)
const HAN: Filler = (chars) => '水'.repeat(chars)

function full(fill: Filler, entries: number): LongForm {
  const upkeep = Array.from({ length: 20 }, (_, at) => ({ name: `${at} ${fill(57)}`, everyDays: 90 }))
  const journal: JournalEntry[] = Array.from({ length: entries }, (_, at) => ({
    id: at,
    site: 'juniper',
    at: JANUARY.from + (at * 30 * DAY) / entries,
    by: 'ops',
    text: fill(2_000),
    newBaseline: false,
    upkeep: null,
  }))
  const alarms: ReportInput['alarms'] = Array.from({ length: entries }, (_, at) => {
    const raised = JANUARY.from + at * HOUR
    const words = { ...alarm().words, title: `${at} ${fill(TITLE_CHARS)}`.slice(0, TITLE_CHARS) }
    const priority = at % 3 === 0 ? ('critical' as const) : ('medium' as const)
    return alarm({ key: `dry-well:${at}`, raised, since: raised, cleared: raised + 47 * HOUR, priority, words })
  })
  const site = { ...JUNIPER, upkeep }
  const report = gatherReport({
    site,
    period: JANUARY,
    days: days(40).filter(({ date }) => date.startsWith('2026-01')),
    cycles: cycles(12),
    cyclesBefore: cycles(12).map((one) => ({ ...one, flowLMin: { value: 3.1, sd: 0.2 } })),
    alarms,
    journal,
    now: JANUARY.to + HOUR,
  })
  return reportForm(report, sizingBody(fakeSizing('juniper', null, 1)))
}

describe.skipIf(chromium === null)('a report on paper (needs chromium)', () => {
  let browser: Browser
  beforeAll(async () => {
    browser = await launch(chromium ?? '')
  })
  afterAll(() => browser.close())

  /** ISO 32000-1, 7.7.3.3: each page is an object of /Type /Page; the tree above them is of /Type /Pages. */
  async function pages(html: string, format: 'A4' | 'Letter'): Promise<number> {
    const page = await browser.newPage()
    await page.setContent(html)
    const pdf = (await page.pdf({ format })).toString('latin1')
    await page.close()
    return pdf.match(/\/Type\s*\/Page\b/g)?.length ?? 0
  }

  it.each(['A4', 'Letter'] as const)('is one page of %s, however much there was in the month', async (format) => {
    expect(await pages(toHtml(full(PROSE, 3)), format)).toBe(1)
    expect(await pages(toHtml(full(PROSE, 60)), format)).toBe(1)
    expect(await pages(toHtml(full(WIDE, 60)), format)).toBe(1)
    expect(await pages(toHtml(full(HAN, 60)), format)).toBe(1)
  })

  it('is more than a page without what is for paper, so that the count above says something', async () => {
    expect(await pages(toHtml({ ...full(PROSE, 60), onePage: false }), 'Letter')).toBeGreaterThan(1)
  })

  it('keeps twelve alarms, the most urgent, and says how many there are besides', () => {
    const form = full(PROSE, 60)
    const alarms = form.sections.find(({ heading }) => heading === 'Alarms')?.lines ?? []
    expect(alarms).toHaveLength(13)
    expect(alarms.slice(0, 12).every((line) => line.includes('(critical)'))).toBe(true)
    expect(alarms.at(-1)).toBe('and 48 more')
    const journal = form.sections.find(({ heading }) => heading === 'Noted in the journal')?.lines ?? []
    expect(journal.at(-1)).toBe('and 54 more before these')
  })
})
