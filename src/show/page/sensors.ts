/** "Check the sensors": how to connect each board, whether each signal can be right, and the lines that put it right. */
import type { RefusedBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import type { SignalBody, SignalsBody } from '../bodies/signals.js'
import { type Beside, type Change, changeFor, configLines, turnedChange, zeroChange } from './config-lines.js'
import { el } from './dom.js'
import { read } from './net.js'
import { NOT_KNOWN, type People, peopleOf, signalWords } from './people.js'
import { checksOf, placeOf, type Verdict, worst, zeroOf } from './sensor-checks.js'
import { peopleUnit, readingOf } from './signal-kind.js'
import type { z } from 'zod'

const EVERY_MS = 5_000
const VERDICT_WORDS: Readonly<Record<Verdict, string>> = {
  good: 'in order',
  wrong: 'not right',
  wait: 'waiting',
  look: 'look yourself',
}

type Refused = z.infer<typeof RefusedBody>
type Found = { readonly body: SignalsBody; readonly refused: readonly Refused[]; readonly at: number }

function valueWords(signal: SignalBody, people: People): string {
  if (signal.value === null) return signal.failed ? 'failed' : NOT_KNOWN
  const reading = readingOf(signal.role, signal.unit)
  if (reading === null) return signal.value === 1 ? 'true (wet)' : 'false (dry)'
  return people.say(reading.kind, signal.value * reading.factor)
}

function example(signals: readonly SignalBody[]): string {
  const records = signals
    .filter(({ decode }) => decode === 'senml')
    .map(({ name, unit }) => (unit === '' ? { n: name, vb: true } : { n: name, u: unit, v: unit === 'V' ? 25.6 : 1 }))
  return JSON.stringify(records)
}

/** Address, account and a message to send by hand, for one board. */
function connectPart(board: SignalsBody['boards'][number], { body }: Found): HTMLElement {
  const { broker, signals } = body
  const own = signals.filter((signal) => signal.board === board.id)
  const mapped = own.filter(({ decode }) => decode !== 'senml')
  const account = broker.anonymous
    ? 'No account is needed from this machine itself.'
    : broker.kind === 'external'
      ? 'The board signs in at the broker that you already run.'
      : 'Make an account for it: the secret is shown once, to be written into the board.'
  const signIn = broker.anonymous ? '' : ` -u ${board.account} -P SECRET`
  const secure = broker.tls ? ' --cafile CA.crt' : ''
  const command = `mosquitto_pub -h ${broker.host} -p ${broker.port}${secure}${signIn} -q 1 -t ${board.topic} -m '${example(own)}'`
  const lines: HTMLElement[] = [
    el(
      'p',
      {},
      `MQTT${broker.tls ? ' with TLS' : ''}, host ${broker.host}, port ${broker.port}, topic `,
      el('code', {}, board.topic),
      `, QoS 1, a SenML pack (RFC 8428) every ${board.expect_every_s} s.`,
    ),
    el('p', {}, account),
  ]
  if (!broker.anonymous && broker.kind === 'embedded') {
    lines.push(code(`sightglass account add ${board.account} --role board --config FILE`))
  }
  if (own.length > mapped.length) lines.push(el('p', {}, 'A message from a shell, to try it:'), code(command))
  for (const { key, topic, decode, pointer } of mapped) {
    const at = pointer === null ? '' : ` at ${pointer}`
    lines.push(el('p', {}, `${signalWords(key)}: as ${decode}${at} on `, el('code', {}, topic), '.'))
  }
  return el('details', {}, el('summary', {}, `Connect ${board.id}`), ...lines)
}

function code(text: string): HTMLElement {
  return el('pre', { tabindex: 0, role: 'group', 'aria-label': 'To copy' }, el('code', {}, text))
}

export type SensorsView = { readonly element: HTMLElement; readonly stop: () => void }

/** Asks every few seconds while it stands. `open`: the ways to connect stand open (nothing has been heard yet). */
export function sensorsView(now: () => NowBody, open: boolean): SensorsView {
  const changes = new Map<string, Change>()
  const pairs = new Map<string, Beside[]>()
  const connect = el('div', {})
  const list = el('div', { class: 'signals' })
  const lines = el('div', {})
  const trouble = el('p', { class: 'caution', role: 'alert', hidden: true })
  const cards = new Map<string, { readonly element: HTMLElement; readonly show: (found: Found) => void }>()
  let found: Found | null = null

  function propose(signal: SignalBody, change: Change): void {
    changes.set(signal.key, { ...changes.get(signal.key), ...change })
    showLines()
  }

  function showLines(): void {
    const text = found === null ? '' : configLines(found.body.signals, changes)
    lines.replaceChildren(...(text === '' ? [] : linesPart(text)))
  }

  /** The reading that somebody took beside the sensor: a dip-stick in the tank, a meter at the battery. */
  function besideForm(signal: SignalBody): HTMLElement | null {
    const reading = readingOf(signal.role, signal.unit)
    if (reading === null) return null
    const unit = peopleUnit(reading, now().site.units)
    const by = signal.role === 'tank-level' ? 'By the dip-stick' : 'Measured beside it'
    const input = el('input', { type: 'number', step: 'any', required: true, inputmode: 'decimal' })
    const said = el('p', { class: 'quiet', role: 'status' })
    const form = el(
      'form',
      { class: 'row' },
      el('label', {}, `${by}, ${unit.unit} `, input),
      el('button', { type: 'submit', 'aria-label': `Compare ${signalWords(signal.key)}` }, 'Compare'),
    )
    form.addEventListener('submit', (event) => {
      event.preventDefault()
      const current = found?.body.signals.find(({ key }) => key === signal.key)
      if (current?.value == null) {
        said.textContent = 'There is nothing to compare with yet.'
        return
      }
      const measured = Number(input.value) * unit.si + unit.zero
      const own = [...(pairs.get(signal.key) ?? []), { said: current.value, measured }]
      pairs.set(signal.key, own)
      said.textContent = besideWords(current, measured)
      const change =
        Math.abs(measured - current.value) <= sureOf(current) && own.length === 1 ? null : changeFor(current, own)
      if (change === null) return
      changes.delete(signal.key)
      propose(current, change)
    })
    return el('div', {}, form, said)
  }

  function besideWords(signal: SignalBody, measured: number): string {
    const people = peopleOf(now())
    const off = measured - (signal.value ?? 0)
    const reading = readingOf(signal.role, signal.unit)
    if (reading === null) return ''
    const unit = peopleUnit(reading, now().site.units)
    const by = `${Math.abs(off / unit.si).toFixed(2)} ${unit.unit}`
    const says = people.say(reading.kind, (signal.value ?? 0) * reading.factor)
    if (Math.abs(off) <= sureOf(signal))
      return `The sensor says ${says}: it agrees within what it can (± ${(sureOf(signal) / unit.si).toFixed(2)} ${unit.unit}).`
    if (signal.has_table)
      return `The sensor says ${says}: ${by} too ${off > 0 ? 'low' : 'high'}. It has a table of its own: mend its points.`
    return `The sensor says ${says}: ${by} too ${off > 0 ? 'low' : 'high'}. A second reading at another value makes it surer.`
  }

  function card(key: string) {
    const state = el('span', { class: 'state' })
    const value = el('span', { class: 'value' })
    const checks = el('ul', {})
    const acts = el('div', { class: 'row' })
    const first = found?.body.signals.find((one) => one.key === key)
    const beside = first === undefined ? null : besideForm(first)
    if (first?.unit === 'A') {
      acts.append(
        pressed(
          `Nothing flows now: take this as zero`,
          `Nothing flows now: take this as zero: ${signalWords(key)}`,
          () => {
            const signal = found?.body.signals.find((one) => one.key === key)
            const mean = signal === undefined ? null : zeroOf(signal)
            if (signal !== undefined && mean !== null) propose(signal, zeroChange(signal, mean))
          },
        ),
        pressed('It is the wrong way round', `It is the wrong way round: ${signalWords(key)}`, () => {
          const signal = found?.body.signals.find((one) => one.key === key)
          if (signal !== undefined) propose(signal, turnedChange(signal))
        }),
      )
    }
    const element = el(
      'details',
      { 'data-key': key },
      el('summary', {}, el('strong', {}, signalWords(key)), ' ', value, ' ', state),
      checks,
      beside,
      acts,
    )
    function show({ body, refused, at }: Found): void {
      const signal = body.signals.find((one) => one.key === key)
      if (signal === undefined) return
      const ageS = signal.at === null ? null : (at - Date.parse(signal.at)) / 1000
      const turned = refused.filter(({ board, reason }) => board === signal.board && reason !== 'duplicate')
      const count = turned.reduce((sum, one) => sum + one.count, 0)
      const made = checksOf(signal, body.boards, placeOf(now()), ageS, count)
      const verdict = worst(made)
      value.textContent = valueWords(signal, peopleOf(now()))
      state.textContent = VERDICT_WORDS[verdict]
      element.dataset.verdict = verdict
      checks.replaceChildren(
        ...made.map((one) =>
          el(
            'li',
            { 'data-verdict': one.verdict },
            el('strong', {}, `${one.what}, ${VERDICT_WORDS[one.verdict]}: `),
            one.words,
          ),
        ),
      )
    }
    return { element, show }
  }

  function draw(fresh: Found): void {
    found = fresh
    if (connect.childElementCount === 0) {
      connect.append(...fresh.body.boards.map((board) => connectPart(board, fresh)))
      if (open) connect.querySelector('details')?.setAttribute('open', '')
    }
    for (const { key } of fresh.body.signals) {
      const known = cards.get(key) ?? card(key)
      if (!cards.has(key)) {
        cards.set(key, known)
        list.append(known.element)
      }
      known.show(fresh)
    }
  }

  async function ask(): Promise<void> {
    try {
      const [body, { refused }] = await Promise.all([
        read<SignalsBody>('/api/signals'),
        read<{ refused: Refused[] }>('/api/refused'),
      ])
      trouble.hidden = true
      draw({ body, refused, at: Date.parse(body.at) })
    } catch (error) {
      trouble.textContent = `The signals could not be asked for. ${error instanceof Error ? error.message : ''}`
      trouble.hidden = false
    }
  }

  void ask()
  const timer = setInterval(() => {
    if (document.visibilityState === 'visible') void ask()
  }, EVERY_MS)
  const element = el('div', {}, trouble, connect, list, lines)
  return { element, stop: () => clearInterval(timer) }
}

/** What the sensor may be off by and still be as sure as it is said to be (two standard uncertainties). */
function sureOf(signal: SignalBody): number {
  return 2 * Math.hypot(signal.sd, signal.gain_sd * (signal.value ?? 0))
}

function pressed(words: string, name: string, press: () => void): HTMLElement {
  const made = el('button', { type: 'button', 'aria-label': name }, words)
  made.addEventListener('click', press)
  return made
}

function linesPart(text: string): HTMLElement[] {
  const said = el('span', { class: 'quiet', role: 'status' })
  const copy = pressed('Copy the lines', 'Copy the lines', () => {
    navigator.clipboard?.writeText(text).then(
      () => (said.textContent = ' Copied.'),
      () => (said.textContent = ' Not copied: mark them and copy by hand.'),
    )
  })
  return [
    el('h3', {}, 'Lines for the configuration'),
    el(
      'p',
      {},
      'Bring these into what stands there, then start the program anew. Members that are not named stay as they are.',
    ),
    code(text),
    el('p', {}, copy, said),
  ]
}
