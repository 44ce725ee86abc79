/**
 * `npm run bench`: every promise about speed and memory, measured on this machine beside its yardstick in the same run,
 * in turn. `--rounds N` (3), `--seconds N` a measurement (6), `--only WORD…` of embedded, backlog, outside, replay,
 * memory and flood, `--write` puts the result into docs/performance.md, `--program FOLDER` measures another build. Exits with 1
 * when a promise is missed.
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { needs } from '../support/needs.js'
import { backlog } from './backlog.js'
import { flood, FLOOD_MESSAGES } from './flood.js'
import { bareBroker, liveBoards, type Rate, type Sizes } from './embedded.js'
import { idleMemory } from './memory.js'
import { daemonOutside, pythonWithClient, scriptOutside } from './outside.js'
import { ratesByHistory } from './history.js'
import { makeCapture, replayRate } from './replay.js'
import { machine, type Row, holds, tableOf, versionOf } from './table.js'

const PARTS = ['embedded', 'backlog', 'outside', 'replay', 'memory', 'flood'] as const
const DOC = fileURLToPath(new URL('../../docs/performance.md', import.meta.url))
const BEGIN = '<!-- measured: begin -->'
const END = '<!-- measured: end -->'
const SETTLE_MS = 20_000
const CAPTURE_DAYS = 30
const HISTORY_DAYS = 100
const CONFIG = fileURLToPath(new URL('../../config/juniper.yaml', import.meta.url))

const { values: words } = parseArgs({
  options: {
    rounds: { type: 'string', default: '3' },
    seconds: { type: 'string', default: '6' },
    only: { type: 'string', multiple: true, default: [] },
    write: { type: 'boolean', default: false },
    program: { type: 'string', default: fileURLToPath(new URL('../../dist', import.meta.url)) },
  },
})
const rounds = bounded(words.rounds, 20)
const seconds = bounded(words.seconds, 10)
const { program } = words

function bounded(text: string, most: number): number {
  const value = Number(text)
  if (!(value >= 1 && value <= most)) throw new Error(`found ${text}, expected a number from 1 to ${most}`)
  return value
}

const wants = (part: (typeof PARTS)[number]): boolean => words.only.length === 0 || words.only.includes(part)
const say = (line: string): void => void process.stderr.write(`${line}\n`)

async function inTurn<T>(what: string, measure: () => Promise<T>): Promise<T[]> {
  const found: T[] = []
  for (let round = 1; round <= rounds; round++) {
    found.push(await measure())
    say(`${what}: round ${round} of ${rounds}: ${JSON.stringify(found.at(-1))}`)
  }
  return found
}

const BOTH: readonly { readonly sizes: Sizes; readonly least: number }[] = [
  { sizes: { connections: 10, window: 200, seconds }, least: 0.3 },
  { sizes: { connections: 100, window: 50, seconds }, least: 0.35 },
]

async function embeddedRows(): Promise<Row[]> {
  const rows: Row[] = []
  for (const { sizes, least } of BOTH) {
    const found = await inTurn(`${sizes.connections} boards`, async () => ({
      bare: await bareBroker(sizes),
      live: await liveBoards(program, sizes),
    }))
    const bare = found.map((one) => one.bare.acknowledgedPerS)
    const name = `${sizes.connections} boards, ${sizes.window} messages in flight each`
    const live = found.map((one) => one.live)
    rows.push(
      {
        what: `${name}: acknowledged`,
        values: live.map((one) => one.acknowledgedPerS),
        beside: bare,
        unit: '/s',
        least,
      },
      { what: `${name}: inferred from, to the end`, values: inferred(live), beside: bare, unit: '/s' },
    )
  }
  return rows
}

function inferred(rates: readonly Rate[]): number[] {
  return rates.map((rate) => rate.inferredPerS ?? Number.NaN)
}

async function backlogRows(): Promise<Row[]> {
  const rows: Row[] = []
  for (const { sizes } of BOTH) {
    const found = await inTurn(`backlog of ${sizes.connections} boards`, async () => ({
      bare: await bareBroker(sizes),
      late: await backlog(program, sizes),
    }))
    const bare = found.map((one) => one.bare.acknowledgedPerS)
    const late = found.map((one) => one.late)
    const name = `${sizes.connections} boards empty their memories into \`run\``
    rows.push(
      { what: `${name}: acknowledged`, values: late.map((one) => one.acknowledgedPerS), beside: bare, unit: '/s' },
      {
        what: `${name}: inferred from`,
        note: 'the processor time of deriving afterwards counted in',
        values: inferred(late),
        beside: bare,
        unit: '/s',
      },
    )
  }
  return rows
}

async function outsideRows(): Promise<Row[]> {
  const [mosquitto, python] = [needs('mosquitto'), pythonWithClient()]
  if (mosquitto === null || python === null) return []
  const rows: Row[] = []
  for (const inFlight of [20, 1_000]) {
    const options = { mosquitto, python, connections: 10, inFlight }
    const found = await inTurn(`outside broker, ${inFlight} in flight`, async () => ({
      script: await scriptOutside(options),
      daemon: await daemonOutside(program, options),
    }))
    rows.push({
      what: `outside broker, ${inFlight} messages in flight${inFlight === 20 ? ' (its usual)' : ''}: durable`,
      values: found.map((one) => one.daemon),
      beside: found.map((one) => one.script),
      unit: '/s',
      least: 5,
    })
  }
  return rows
}

async function replayRows(): Promise<Row[]> {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-bench-'))
  try {
    const capture = join(folder, 'month.ndjson')
    await makeCapture(capture, CAPTURE_DAYS)
    const values = await inTurn('replay', () => replayRate(program, capture, join(folder, 'out')))
    const what = `\`replay\` of ${CAPTURE_DAYS} days of juniper, samples`
    const history = await inTurn('history', () => ratesByHistory(CONFIG, HISTORY_DAYS))
    return [
      { what, values, beside: [], unit: '/s', least: 400_000 },
      {
        what: `the last ten of ${HISTORY_DAYS} days beside the first ten, samples`,
        note: 'processor time',
        values: history.map((rates) => rates.at(-1) ?? Number.NaN),
        beside: history.map(([first = Number.NaN]) => first),
        unit: '/s',
        least: 0.8,
      },
    ]
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

async function memoryRows(): Promise<Row[]> {
  const values = await inTurn('memory', () => idleMemory(program, SETTLE_MS))
  return [
    { what: `\`run\` at rest, ${SETTLE_MS / 1000} s after its start`, values, beside: [], unit: 'MiB', most: 110 },
  ]
}

async function floodRows(): Promise<Row[]> {
  // The simulation begins on a whole second.
  const startMs = Math.floor(Date.now() / 1_000) * 1_000
  const found = await inTurn('flood', async () => {
    const { counts, idleP99Ms } = await flood({ program, count: FLOOD_MESSAGES, spreadMs: 60_000, seed: 3, startMs })
    return { p99: counts.delayP99Ms, most: counts.delayMaxMs, idle: idleP99Ms }
  })
  const what = `${FLOOD_MESSAGES.toLocaleString('en-US')} shuffled messages of three days within a minute: delay of the event loop`
  return [
    {
      what: `${what}, 99 of 100 below`,
      note: 'deriving the three days anew counted in',
      values: found.map(({ p99 }) => p99),
      beside: [],
      unit: 'ms',
      most: 200,
    },
    { what: `${what}, longest`, values: found.map(({ most }) => most), beside: [], unit: 'ms' },
  ]
}

function written(text: string): void {
  const doc = readFileSync(DOC, 'utf8')
  const [from, to] = [doc.indexOf(BEGIN), doc.indexOf(END)]
  if (from < 0 || to < from) throw new Error(`docs/performance.md: expected ${BEGIN} and ${END}`)
  writeFileSync(DOC, `${doc.slice(0, from + BEGIN.length)}\n\n${text}\n\n${doc.slice(to)}`)
}

for (const one of words.only)
  if (!PARTS.some((part) => part === one)) throw new Error(`--only ${one}: expected one of ${PARTS.join(', ')}`)
const where = machine()
const rows = [
  ...(wants('embedded') ? await embeddedRows() : []),
  ...(wants('backlog') ? await backlogRows() : []),
  ...(wants('outside') ? await outsideRows() : []),
  ...(wants('replay') ? await replayRows() : []),
  ...(wants('memory') ? await memoryRows() : []),
  ...(wants('flood') ? await floodRows() : []),
]
const about = `${new Date().toISOString().slice(0, 10)}, ${where}; aedes ${versionOf('aedes')}. ${rounds} rounds of ${seconds} s each; medians.`
const text = `${about}\n\n${tableOf(rows)}`
process.stdout.write(`${text}\n`)
if (words.write) written(text)
process.exitCode = rows.every(holds) ? 0 : 1
