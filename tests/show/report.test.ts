import { describe, expect, it } from 'vitest'
import type { Alarm } from '../../src/model/alarm.js'
import type { Day, FillCycle } from '../../src/model/fill.js'
import type { JournalEntry } from '../../src/model/modes.js'
import { DAY, HOUR, type Ms } from '../../src/model/time.js'
import { gatherReport, type Period, type ReportInput } from '../../src/show/report/gather.js'
import { monthOf, monthOver, weekFrom, weekOver } from '../../src/show/report/period.js'
import { reportForm, topSentence } from '../../src/show/report/words.js'
import { toHtml, toText } from '../../src/tell/sections.js'
import { alarm, siteSettings } from '../tell/support.js'

const site = { ...siteSettings(), timezone: 'America/Denver', units: 'si' as const }
const FEBRUARY = monthOf('2026-02', site.timezone) as Period

function day(index: number, changes: Partial<Day> = {}): Day {
  const date = `2026-02-${String(index + 1).padStart(2, '0')}`
  const start = FEBRUARY.from + index * DAY
  return {
    date,
    start,
    end: start + DAY,
    pumpedL: { value: 200, sd: 4 },
    usedL: { value: 190, sd: 5 },
    fills: 1,
    runS: 3_000,
    pumpWh: { value: 100, sd: 1 },
    whPerL: { value: 0.5, sd: 0.01 },
    batteryMinV: 26 - (index === 9 ? 1 : 0),
    batteryMaxV: 28.4,
    harvestWh: 800,
    airMinC: index < 12 ? -3 - index / 10 : 2,
    airMaxC: 9,
    covered: 1,
    ...changes,
  }
}

function fill(start: Ms, changes: Partial<FillCycle> = {}): FillCycle {
  return {
    start,
    end: start + 3_000_000,
    durationS: 3_000,
    durationSdS: 5,
    volumeL: { value: 200, sd: 4 },
    energyWh: { value: 100, sd: 1 },
    flowLMin: { value: 4, sd: 0.1 },
    whPerL: { value: 0.5, sd: 0.01 },
    currentMeanA: 3,
    voltageMeanV: 26,
    voltageMinV: 25.9,
    levelStartM: 0.9,
    levelEndM: 1.07,
    firstRiseS: 40,
    endReason: 'full',
    complete: true,
    ...changes,
  }
}

function report(changes: Partial<ReportInput> = {}) {
  const days = Array.from({ length: 28 }, (_, index) => day(index))
  return gatherReport({
    site,
    period: FEBRUARY,
    days,
    cycles: days.map(({ start }) => fill(start + HOUR)),
    cyclesBefore: [fill(FEBRUARY.from - DAY, { flowLMin: { value: 5, sd: 0.1 } })],
    alarms: [],
    journal: [],
    now: FEBRUARY.to + HOUR,
    ...changes,
  })
}

const text = (changes: Partial<ReportInput> = {}) => toText(reportForm(report(changes)))

function standing(changes: Partial<Alarm> = {}): Alarm {
  return alarm({ raised: FEBRUARY.from + 3 * DAY, since: FEBRUARY.from + 3 * DAY, cleared: null, ...changes })
}

describe('the month on one page', () => {
  it('begins with one sentence, and a quiet month says so', () => {
    expect(topSentence(report())).toBe('A quiet month: nothing asked for you, and 28 fills brought 5,600 l.')
    expect(text()).toMatch(/^Juniper Bench: February 2026\n\nA quiet month: /)
  })

  it('begins with what still stands, else with what was serious', () => {
    const title = lower(standing().words.title)
    expect(topSentence(report({ alarms: [standing()] }))).toContain(`One thing still stands: ${title}; `)
    const over = standing({ cleared: FEBRUARY.from + 3 * DAY + HOUR, state: 'normal' })
    expect(topSentence(report({ alarms: [over] }))).toContain(`Something asked for you: ${title}; it is over`)
    const small = standing({ priority: 'low', cleared: FEBRUARY.from + 4 * DAY, state: 'normal' })
    expect(topSentence(report({ alarms: [small] }))).toContain('only 1 small thing to read of')
  })

  it('never calls a month quiet of which nothing was heard, and says how much was', () => {
    expect(topSentence(report({ days: [], cycles: [] }))).toBe('Nothing was heard from the place in this month.')
    const half = Array.from({ length: 14 }, (_, index) => day(index))
    expect(topSentence(report({ days: half }))).toContain('50 % of the time was heard')
    expect(text({ days: half })).toContain('Rests on 14 of 28 days')
  })

  it('sums what is known with its doubt, and says of how many days', () => {
    // GUM (JCGM 100:2008), 5.1.2: 28 independent days of ±4 l are ±21 l; a ratio of sums by 5.1.6.
    expect(text()).toContain('Pumped: 5,600 l ± 21 l')
    expect(report().whPerL?.sd).toBeCloseTo(0.5 * Math.hypot(Math.sqrt(28) / 2_800, (4 * Math.sqrt(28)) / 5_600), 10)
    const gaps = Array.from({ length: 28 }, (_, index) => day(index, index < 8 ? { usedL: null } : {}))
    expect(text({ days: gaps })).toContain('Used: 3,800 l ± 22 l in 20 days for which it is known, 190 l a day')
    const nothing = Array.from({ length: 28 }, (_, index) => day(index, { pumpedL: null, harvestWh: null }))
    expect(text({ days: nothing })).toContain('Pumped: not known')
    expect(text({ days: nothing })).toContain('Harvest of the panels: not measured')
  })

  it('counts a day without data neither as nothing used nor as a day', () => {
    const blank = day(27, { covered: 0, pumpedL: { value: 0, sd: 0 } })
    const days = [...Array.from({ length: 27 }, (_, index) => day(index)), blank]
    expect(report({ days }).pumped).toMatchObject({ value: 5_400, days: 27 })
  })

  it('compares yield and energy with the month before, and says nothing of what did not change', () => {
    expect(text()).toContain('Yield: 4.0 l/min, 20 % less than in the month before')
    expect(text()).toContain('Energy for each volume: 0.50 Wh/l, as in the month before')
    expect(text({ cyclesBefore: [] })).toMatch(/Yield: 4\.0 l\/min\n/)
  })

  it('leaves fills that do not count out of yield and energy', () => {
    const cycles = [fill(FEBRUARY.from), fill(FEBRUARY.from + DAY, { complete: false, flowLMin: { value: 1, sd: 1 } })]
    expect(report({ cycles }).flowLMin).toBe(4)
    expect(text({ cycles })).toContain('2 fills, 1 of them with figures that do not count')
  })

  it('tells weather and battery with their days', () => {
    expect(text()).toContain('From -4.1 °C (12 Feb 2026) to 9.0 °C; frost on 12 days')
    expect(text()).toContain('From 25.00 V (10 Feb 2026) to 28.40 V')
  })

  it('lists each alarm once, the most urgent first, and not what follows from another', () => {
    const lines = report({
      alarms: [
        standing({ key: 'a:', priority: 'low', cleared: FEBRUARY.from + 5 * DAY }),
        standing({ key: 'b:', priority: 'critical', cleared: FEBRUARY.from + 3 * DAY + HOUR }),
        standing({ key: 'b:', priority: 'high', raised: FEBRUARY.from + 9 * DAY, since: FEBRUARY.from + 9 * DAY }),
        standing({ key: 'c:', explainedBy: 'b:' }),
      ],
    }).alarms
    expect(lines.map(({ priority, count, standing: still }) => [priority, count, still])).toEqual([
      ['critical', 2, true],
      ['low', 1, false],
    ])
  })

  it('says what upkeep is due, was done, or was never noted', () => {
    const upkeep = [
      { name: 'water filter', everyDays: 20 },
      { name: 'battery terminals', everyDays: 365 },
      { name: 'water test', everyDays: 365 },
    ]
    const entry = (at: Ms, name: string): JournalEntry => ({
      id: 1,
      site: 'juniper',
      at,
      by: 'ops',
      text: `${name} done`,
      newBaseline: false,
      upkeep: name,
    })
    const journal = [entry(FEBRUARY.from - 30 * DAY, 'battery terminals'), entry(FEBRUARY.from + DAY, 'water filter')]
    const words = text({ site: { ...site, upkeep }, journal })
    expect(words).toMatch(/water filter: due since/)
    expect(words).toMatch(/battery terminals: next/)
    expect(words).toMatch(/water test: never noted \(every 365 days\)/)
    expect(words).toContain('ops: water filter done')
    expect(words).not.toContain('battery terminals done')
  })

  it('writes what people typed into HTML as text', () => {
    const journal = [
      {
        id: 1,
        site: 'juniper',
        at: FEBRUARY.from,
        by: '<b>',
        text: '<script>x</script>',
        newBaseline: false,
        upkeep: null,
      },
    ]
    const html = toHtml(reportForm(report({ journal })))
    expect(html).not.toContain('<script>')
    expect(html).toContain('&lt;script&gt;')
  })
})

describe('months and weeks', () => {
  it('are those of the site, also where clocks are set within them', () => {
    // The US set clocks forward on 8 March and back on 1 November 2026.
    const march = monthOf('2026-03', 'America/Denver') as Period
    expect((march.to - march.from) / HOUR).toBe(31 * 24 - 1)
    const november = monthOf('2026-11', 'America/Denver') as Period
    expect((november.to - november.from) / HOUR).toBe(30 * 24 + 1)
    expect(new Date(march.from).toISOString()).toBe('2026-03-01T07:00:00.000Z')
    const far = monthOf('2026-02', 'Pacific/Kiritimati') as Period
    expect(new Date(far.from).toISOString()).toBe('2026-01-31T10:00:00.000Z')
    expect(monthOf('2026-12', 'America/Denver')).toMatchObject({ firstDate: '2026-12-01', lastDate: '2026-12-31' })
    expect(monthOf('2026-13', 'America/Denver')).toBeNull()
    expect(monthOf('last month', 'America/Denver')).toBeNull()
  })

  it('that were over last are found on their first day after', () => {
    const first = Date.UTC(2026, 2, 1, 15)
    expect(monthOver(first, 'America/Denver')).toBe('2026-02')
    expect(monthOver(Date.UTC(2026, 2, 1, 6), 'America/Denver')).toBe('2026-01')
    // 2026-03-02 is a Monday.
    expect(weekOver(Date.UTC(2026, 2, 2, 15), 'America/Denver')).toMatchObject({
      firstDate: '2026-02-23',
      lastDate: '2026-03-01',
    })
    expect(weekOver(Date.UTC(2026, 2, 8, 15), 'America/Denver').firstDate).toBe('2026-02-23')
    expect(weekFrom('2026-02-02', 'America/Denver').name).toBe('2 Feb 2026 to 8 Feb 2026')
  })
})

function lower(title: string): string {
  return `${title.charAt(0).toLowerCase()}${title.slice(1)}`.replace(/[.\s]+$/, '')
}
