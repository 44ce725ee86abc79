/** Starts the page: asks, draws, and keeps what it shows fresh and honest about its age. */
import type { FreezeBody } from '../bodies/freeze.js'
import type { CycleBody, DayBody, JournalBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import type { SizingBody } from '../bodies/sizing.js'
import type { UsualBody } from '../bodies/usual.js'
import { createCharts } from './charts.js'
import { coldPart } from './cold.js'
import { el, part } from './dom.js'
import { daysPart, fillsPart } from './fills.js'
import { batteryPart, pumpPart, skyPart, waterPart } from './glance.js'
import { ageWords, headPart } from './head.js'
import { boardsPart, refusedPart, waysPart } from './house.js'
import { keepLive, type Live } from './live.js'
import { act, actWithoutSite, Refused, read, Unreachable } from './net.js'
import { type People, peopleOf } from './people.js'
import { sectionDrawing } from './section-drawing.js'
import { signInForm } from './sign-in.js'
import { sizingPanel } from './sizing.js'
import { journalForm, journalPart, modesPart, type UpkeepActs } from './upkeep.js'
import { usualPart } from './usual.js'
import { type AlarmActs, wrongPart } from './wrong.js'

/** The curves move slowly; asking for them at each look would cost a phone's allowance for nothing. */
const CHARTS_EVERY_MS = 5 * 60_000
const AGE_EVERY_MS = 5_000

const DAYS_SHOWN_MS = 14 * 86_400_000

function found(id: string): HTMLElement {
  const element = document.getElementById(id)
  if (element === null) throw new Error(`index.html has no #${id}`)
  return element
}

const head = found('head')
const page = found('page')
const sentence = found('sentence')
const detail = found('detail')

const trouble = el('p', { class: 'caution', role: 'alert', hidden: true })
const wrong = part('wrong', 'What is wrong')
const section = part('section', null)
const glance = part('glance', null)
const charts = createCharts()
const cold = part('cold', 'Cold tonight')
const fills = part('fills', 'Fills')
const days = part('days', null)
const usual = part('usual', 'What is usual here')
const boards = part('boards', 'Boards')
const ways = part('ways', 'Telling')
const sizing = sizingPanel(
  () => read<SizingBody>('/api/sizing'),
  () => latest?.now.site.units ?? 'us',
)
const modes = part('modes', 'The place')
const journal = part('journal', 'Service log')

let latest: { readonly now: NowBody; readonly at: number } | null = null
let live: Live | null = null
let chartsAt = Number.NEGATIVE_INFINITY

function complain(words: string | null): void {
  if (!trouble.isConnected) detail.after(trouble)
  trouble.textContent = words ?? ''
  trouble.hidden = words === null
}

/** Runs something that acts, says what went wrong if it did, and asks anew. True when it worked. */
async function doing(what: () => Promise<void>): Promise<boolean> {
  try {
    await what()
    complain(null)
    await refresh()
    return true
  } catch (error) {
    complain(`That was not done. ${error instanceof Error ? error.message : ''}`)
    await refresh()
    return false
  }
}

const alarmActs: AlarmActs = {
  acknowledge: async (key) => void (await doing(() => act(`/api/alarms/${encodeURIComponent(key)}/acknowledge`))),
  shelve: async (key, minutes, reason) =>
    void (await doing(() => act(`/api/alarms/${encodeURIComponent(key)}/shelve`, { minutes, reason }))),
}
const upkeepActs: UpkeepActs = {
  away: async (away) => void (await doing(() => act('/api/away', { away }))),
  season: async (winterized) => void (await doing(() => act('/api/season', { winterized }))),
  maintenance: async (minutes) => void (await doing(() => act('/api/maintenance', { minutes }))),
  journal: (text, newBaseline) =>
    doing(async () => {
      await act('/api/journal', { text, new_baseline: newBaseline })
      await showJournal()
    }),
}

function signOut(): void {
  void actWithoutSite('/api/session', undefined, 'DELETE').finally(() => location.reload())
}

function showNow(now: NowBody, people: People): void {
  document.title = `${now.answer.verdict === 'well' ? '' : '● '}${now.site.name}`
  document.documentElement.dataset.verdict = now.answer.verdict
  head.replaceChildren(...headPart(now, signOut))
  if (sentence.textContent !== now.answer.sentence) sentence.textContent = now.answer.sentence
  detail.textContent = now.answer.detail
  const { alarms, you, tank, water, pump, battery, sky, lines } = now
  const minute = Math.floor(Date.parse(now.at) / 60_000)
  wrong.show([alarms, you, alarms.length > 0 ? minute : 0], () => wrongPart(now, people, alarmActs))
  section.show([tank, water, pump], () => [
    sectionDrawing(now, people) ?? el('p', {}, 'No tank is described in the configuration.'),
  ])
  glance.show([tank, water, pump, battery, sky, lines], () => [
    waterPart(now, people),
    pumpPart(now, people),
    batteryPart(now, people),
    skyPart(now, people),
  ])
  boards.show([now.boards, now.learning, now.suspects, now.latest.map((one) => one.failed), minute], () => [
    ...boardsPart(now, people),
  ])
  ways.show([now.ways, minute], () => waysPart(now, people))
  modes.show([now.modes, you], () => modesPart(now, people, upkeepActs))
}

async function showJournal(): Promise<void> {
  if (latest === null) return
  const people = peopleOf(latest.now)
  const { entries } = await read<{ entries: JournalBody[] }>('/api/journal')
  journal.show(entries, () => journalPart(entries, people))
}

async function showCold(people: People): Promise<void> {
  const body = await read<FreezeBody>('/api/freeze')
  cold.show(body, () => coldPart(body, people))
}

const refused = part('refused', null)

async function showHistory(now: NowBody, people: People): Promise<void> {
  const from = new Date(Date.parse(now.at) - DAYS_SHOWN_MS).toISOString().slice(0, 10)
  const [cycleList, dayList, refusals] = await Promise.all([
    read<{ cycles: CycleBody[] }>('/api/cycles', 'limit=12'),
    read<{ days: DayBody[] }>('/api/days', `from=${from}`),
    read<{ refused: Parameters<typeof refusedPart>[0] }>('/api/refused'),
  ])
  fills.show(cycleList.cycles, () => fillsPart(cycleList.cycles, people))
  days.show(dayList.days, () => daysPart(dayList.days, people))
  refused.show(refusals.refused, () => refusedPart(refusals.refused, people))
  await showUsual(people)
  await showJournal()
}

async function showUsual(people: People): Promise<void> {
  const body = await read<UsualBody>('/api/usual')
  usual.show(body, () => usualPart(body, people))
}

function lostWords(): string {
  const since = latest === null ? '' : ` What it shows is from ${peopleOf(latest.now).when(latest.now.at)}.`
  return `This page does not reach the daemon.${since}`
}

/** A daemon with several sites wants one named: the first that it lists will do. */
function firstSite(error: Refused): string | null {
  if (error.status !== 400 || error.expected === null || location.search.includes('site=')) return null
  return error.expected.split(', ')[0] ?? null
}

function failed(error: unknown): void {
  if (!(error instanceof Refused) && !(error instanceof Unreachable)) throw error
  if (latest === null) sentence.textContent = 'How it is there is not known.'
  if (error instanceof Unreachable) {
    complain(lostWords())
    return
  }
  const site = firstSite(error)
  if (error.status === 401) askToSignIn()
  else if (site !== null) location.replace(`/?site=${encodeURIComponent(site)}`)
  else complain(error.message)
}

/** Asks what is so now and draws it; older parts follow when they are due. */
async function refresh(everything = false): Promise<void> {
  try {
    const now = await read<NowBody>('/api/now')
    const first = latest === null
    latest = { now, at: Date.now() }
    if (trouble.textContent?.startsWith('This page does not reach') === true) complain(null)
    const people = peopleOf(now)
    if (first) layOut(now)
    showNow(now, people)
    showAge()
    if (everything || first) await showHistory(now, people)
    if (everything || Date.now() - chartsAt > CHARTS_EVERY_MS) {
      chartsAt = Date.now()
      await Promise.all([charts.show(now), showCold(people)])
    }
  } catch (error) {
    failed(error)
  }
}

function showAge(): void {
  const place = document.getElementById('age')
  if (latest !== null && place !== null) place.textContent = ageWords(latest.now, Date.now() - latest.at)
}

function layOut(now: NowBody): void {
  const write = now.you.role === 'owner' ? el('section', { 'aria-label': 'Write' }, journalForm(upkeepActs)) : null
  const parts = [wrong, section, glance].map((one) => one.element)
  const rest = [fills, days, usual, sizing, boards, ways, refused, modes, journal].map((one) => one.element)
  page.replaceChildren(
    sentence,
    detail,
    trouble,
    ...parts,
    charts.element,
    cold.element,
    ...rest,
    ...(write === null ? [] : [write]),
  )
  live ??= keepLive((kinds) => void refresh([...kinds].some((kind) => kind === 'cycles' || kind === 'journal')))
}

function askToSignIn(): void {
  live?.stop()
  live = null
  latest = null
  head.replaceChildren()
  sentence.textContent = 'Sign in to see how it is there.'
  detail.textContent = ''
  page.replaceChildren(
    sentence,
    signInForm(() => void refresh(true)),
  )
}

setInterval(showAge, AGE_EVERY_MS)
/** The event stream tells of changes; this notices when the daemon itself is gone. */
setInterval(() => {
  if (latest !== null && document.visibilityState === 'visible' && Date.now() - latest.at > 60_000) void refresh()
}, 30_000)
void refresh()
