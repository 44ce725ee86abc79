/** Starts the page: asks, draws, and keeps what it shows fresh and honest about its age. */
import type { AlarmSettingsBody } from '../bodies/alarm-settings.js'
import type { AlarmBody } from '../bodies/alarms.js'
import type { FreezeBody } from '../bodies/freeze.js'
import type { CycleBody, DayBody, JournalBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import type { SizingBody } from '../bodies/sizing.js'
import type { UpkeepBody } from '../bodies/upkeep.js'
import type { UsualBody } from '../bodies/usual.js'
import { createCharts } from './charts.js'
import { coldPart } from './cold.js'
import { el, part } from './dom.js'
import { daysPart, fillsPart } from './fills.js'
import { batteryPart, pumpPart, skyPart, waterPart } from './glance.js'
import { ageWords, headPart } from './head.js'
import { boardsPart, refusedPart, waysPart } from './house.js'
import { lazyPart } from './lazy-part.js'
import { keepLive, type Live } from './live.js'
import { forget, kept, readAndKeep, readKept } from './kept.js'
import { act, actWithoutSite, type Reader, Refused, read, Unreachable } from './net.js'
import { type People, peopleOf } from './people.js'
import { sensorsPart } from './sensors-part.js'
import { sectionDrawing } from './section-drawing.js'
import { signInForm } from './sign-in.js'
import { sizingPanel } from './sizing.js'
import { duePart, journalForm, journalPart, modesPart, type UpkeepActs } from './upkeep.js'
import { usualPart } from './usual.js'
import { tellPhonePart } from './tell-phone.js'
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

const trouble = el('p', { id: 'trouble', class: 'caution', role: 'alert', hidden: true })
/** Stands while everything shown is old. */
const lost = el('p', { id: 'lost', class: 'caution', role: 'alert', hidden: true })
const wrong = part('wrong', 'What is wrong')
const section = part('section', 'Now')
const glance = part('glance', null)
const charts = createCharts()
const cold = part('cold', 'Cold tonight')
const fills = part('fills', 'Fills')
const days = part('days', null)
const usual = part('usual', 'What is usual here')
const boards = part('boards', 'Boards')
const ways = part('ways', 'Telling')
const tellPhone = tellPhonePart()
const sizing = sizingPanel(
  () => read<SizingBody>('/api/sizing'),
  () => latest?.now.site.units ?? 'us',
)
const sensors = sensorsPart(() => latest?.now ?? null)
const alarmsPart = lazyPart('alarms', 'Alarms: what each goes by, and those of the last month', async () => {
  const people = peopleNow()
  if (latest === null || people === null) return []
  const [{ alarmList }, body, { past }] = await Promise.all([
    import('./alarm-list.js'),
    read<AlarmSettingsBody>('/api/alarms/settings'),
    read<{ past: AlarmBody[] }>('/api/alarms'),
  ])
  return alarmList(body, past, latest.now.site.units, people, latest.now.you.role === 'owner')
})
const modes = part('modes', 'The place')
const upkeep = part('upkeep', 'Upkeep')
const journal = part('journal', 'Service log')

/** What the daemon last said, and when by this machine's clock. */
let latest: { readonly now: NowBody; readonly at: number } | null = null
/** True while the daemon is not reached: everything shown is then of `latest.at`. */
let old = false
let live: Live | null = null
let chartsAt = Number.NEGATIVE_INFINITY

function say(place: HTMLElement, words: string | null): void {
  if (!place.isConnected) detail.after(place)
  if (place.textContent !== words) place.textContent = words ?? ''
  place.hidden = words === null
}

function complain(words: string | null): void {
  say(trouble, words)
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
  journal: (text, newBaseline, name) =>
    doing(async () => {
      await act('/api/journal', { text, new_baseline: newBaseline, upkeep: name })
      const people = peopleNow()
      if (people !== null) await showJournal(readAndKeep, people)
    }),
}

const form = journalForm(upkeepActs)

function signOut(): void {
  void actWithoutSite('/api/session', undefined, 'DELETE')
    .finally(forget)
    .finally(() => location.reload())
}

/** Figures and times as people read them now, also where what is shown is old. */
function peopleNow(): People | null {
  return latest === null ? null : peopleOf(latest.now, Date.now() - latest.at)
}

function showSentence(now: NowBody, people: People): void {
  const words = old ? `Last known, from ${people.when(now.at)}: ${now.answer.sentence}` : now.answer.sentence
  if (sentence.textContent !== words) sentence.textContent = words
  document.title = `${old ? '○ ' : now.answer.verdict === 'well' ? '' : '● '}${now.site.name}`
  document.documentElement.dataset.verdict = old ? 'old' : now.answer.verdict
}

function showNow(now: NowBody, people: People): void {
  showSentence(now, people)
  head.replaceChildren(...headPart(now, signOut))
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

async function showJournal(from: Reader, people: People): Promise<void> {
  const [{ entries }, due] = await Promise.all([
    from<{ entries: JournalBody[] }>('/api/journal'),
    from<UpkeepBody>('/api/upkeep'),
  ])
  const owner = latest?.now.you.role === 'owner'
  journal.show(entries, () => journalPart(entries, people))
  form.offer(due.upkeep.map(({ name }) => name))
  upkeep.show([due.upkeep, owner], () => duePart(due, owner, people, upkeepActs))
}

async function showCold(from: Reader, people: People): Promise<void> {
  const body = await from<FreezeBody>('/api/freeze')
  cold.show(body, () => coldPart(body, people))
}

const refused = part('refused', null)

async function showHistory(from: Reader, now: NowBody, people: People): Promise<void> {
  const first = new Date(Date.parse(now.at) - DAYS_SHOWN_MS).toISOString().slice(0, 10)
  const [cycleList, dayList, refusals, learned] = await Promise.all([
    from<{ cycles: CycleBody[] }>('/api/cycles', 'limit=60'),
    from<{ days: DayBody[] }>('/api/days', `from=${first}`),
    from<{ refused: Parameters<typeof refusedPart>[0] }>('/api/refused'),
    from<UsualBody>('/api/usual'),
  ])
  fills.show([cycleList.cycles, learned.figures], () => fillsPart(cycleList.cycles, learned, now, people))
  days.show(dayList.days, () => daysPart(dayList.days, people))
  refused.show(refusals.refused, () => refusedPart(refusals.refused, people))
  usual.show(learned, () => usualPart(learned, people))
  await showJournal(from, people)
}

const LOST = 'This page does not reach the daemon.'

function lostWords(): string {
  const people = peopleNow()
  if (latest === null || people === null) return LOST
  return `${LOST} What it shows is from ${people.when(latest.now.at)}.`
}

/** Marks everything as old, and shows what was kept where nothing else is there to be shown. */
async function showOld(): Promise<void> {
  const found = latest === null ? await kept('/api/now') : null
  if (found !== null && latest === null) {
    latest = { now: found.body as NowBody, at: found.at }
    layOut(latest.now)
  }
  const people = peopleNow()
  const first = !old
  old = true
  say(lost, lostWords())
  if (latest === null || people === null) {
    sentence.textContent = 'How it is there is not known.'
    return
  }
  const { now } = latest
  if (first) showNow(now, people)
  else showSentence(now, people)
  showAge()
  if (!first || found === null) return
  const parts = [showHistory(readKept, now, people), charts.show(now, readKept), showCold(readKept, people)]
  // What was never kept stays empty.
  await Promise.allSettled(parts)
}

/** A daemon with several sites wants one named: the first that it lists will do. */
function firstSite(error: Refused): string | null {
  if (error.status !== 400 || error.expected === null || location.search.includes('site=')) return null
  return error.expected.split(', ')[0] ?? null
}

async function failed(error: unknown): Promise<void> {
  if (error instanceof Unreachable) return showOld()
  if (!(error instanceof Refused)) throw error
  if (latest === null) sentence.textContent = 'How it is there is not known.'
  const site = firstSite(error)
  if (error.status === 401) askToSignIn()
  else if (site !== null) location.replace(`/?site=${encodeURIComponent(site)}`)
  else complain(error.message)
}

/** Asks what is so now and draws it; older parts follow when they are due. */
async function refresh(everything = false): Promise<void> {
  try {
    const now = await readAndKeep<NowBody>('/api/now')
    const first = latest === null
    const again = old
    latest = { now, at: Date.now() }
    old = false
    say(lost, null)
    const people = peopleOf(now)
    if (first) layOut(now)
    showNow(now, people)
    showAge()
    if (everything || first || again) await showHistory(readAndKeep, now, people)
    if (everything || again || Date.now() - chartsAt > CHARTS_EVERY_MS) {
      chartsAt = Date.now()
      await Promise.all([charts.show(now, readAndKeep), showCold(readAndKeep, people)])
    }
    if (first) await afterFirst(now)
  } catch (error) {
    await failed(error)
  }
}

/** What can wait until the page stands. */
async function afterFirst(now: NowBody): Promise<void> {
  // Without the worker the page is what it was, but for opening without a link and being told.
  if ('serviceWorker' in navigator) await navigator.serviceWorker.register('/worker.js').catch(() => undefined)
  if (now.you.role === 'owner') await tellPhone.show()
}

function showAge(): void {
  const place = document.getElementById('age')
  if (latest !== null && place !== null) place.textContent = ageWords(latest.now, Date.now() - latest.at)
  if (old) say(lost, lostWords())
}

function layOut(now: NowBody): void {
  const owner = now.you.role === 'owner'
  if (owner) ways.element.append(tellPhone.element)
  const unheard = now.last_heard === null
  if (unheard) sensors.begin()
  const first = [wrong, section, glance, charts, cold, fills, days, usual, sizing, boards, ways, refused]
  const parts = [...first, modes, upkeep, journal].map((one) => one.element)
  page.replaceChildren(sentence, detail, lost, trouble, ...(unheard ? [sensors.element] : []), ...parts)
  if (owner) page.append(el('section', { 'aria-label': 'Write into the service log' }, form.element))
  page.append(alarmsPart)
  if (!unheard) page.append(sensors.element)
  live ??= keepLive((kinds) => void refresh([...kinds].some((kind) => kind === 'cycles' || kind === 'journal')))
}

function askToSignIn(): void {
  void forget()
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
