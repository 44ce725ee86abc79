/** `simulators`: the invented sites as captures, or live over MQTT. */
import { readFileSync } from 'node:fs'
import { Command, CommanderError, InvalidArgumentError, Option } from 'commander'
import { DAY, type Ms } from '../src/model/time.js'
import { writeCapture, writeTruth } from './capture.js'
import { parseFault, SEVERITIES, WrongWords } from './fault.js'
import { FAULT_KINDS, FAULTS } from './fault-table.js'
import { runLive } from './live.js'
import { ordinaryLife } from './ordinary.js'
import { pastOnFile } from './past.js'
import { planOf, SITE_IDS, type SiteId } from './plan.js'
import { LocalTime } from './local-time.js'
import { wallNow } from './wall-clock.js'

type SiteWords = { site: SiteId; seed: number; start?: Ms; fault: string[]; people?: number; ordinary?: boolean }
type CaptureWords = SiteWords & { days: number; out: string; truth?: string; level: 'pressure' | 'ultrasonic' }
type LiveWords = SiteWords & {
  url: string
  speed: number
  wallStart?: Ms
  username?: string
  passwordFile?: string
  outages: number
  past: number
  pastFile?: string
}

/** A spring day without frost, so that a month from it is an ordinary month. */
const SPRING = Date.UTC(2026, 4, 4)

function whole(text: string): number {
  if (!/^-?\d+$/.test(text)) throw new InvalidArgumentError(`"${text}" is no whole number.`)
  return Number(text)
}

function positive(text: string): number {
  const value = Number(text)
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError(`"${text}" is no number above 0.`)
  return value
}

function instant(text: string): Ms {
  const at = /^\d{12,14}$/.test(text) ? Number(text) : Date.parse(text)
  if (Number.isNaN(at)) throw new InvalidArgumentError(`"${text}" is no time; expected ISO 8601 or epoch milliseconds.`)
  return at
}

/** Midnight there, at the beginning of that day. */
function midnight(at: Ms, site: SiteId): Ms {
  const local = new LocalTime(planOf(site).timezone)
  return at - local.offsetMs(at)
}

function siteCommand(name: string, words: string): Command {
  return new Command(name)
    .description(words)
    .exitOverride()
    .addOption(new Option('--site <id>', 'which invented site').choices([...SITE_IDS]).default('juniper'))
    .option('--seed <number>', 'one seed drives everything', whole, 1)
    .option('--start <time>', 'first simulated moment, ISO 8601', instant)
    .option('--people <number>', 'people who live there', whole)
    .option('--ordinary', 'with guests, empty weeks, storms and a poor link')
    .option('--fault <words>', 'KIND:SEVERITY@WHEN[+HOWLONG], as in dry-well:middle@12d6h; may be repeated', gather, [])
}

function gather(text: string, before: string[]): string[] {
  return [...before, text]
}

function common(words: SiteWords, startMs: Ms, days: number) {
  return {
    site: words.site,
    seed: words.seed,
    startMs,
    faults: words.fault.map((text) => parseFault(text, startMs)),
    ...(words.people === undefined ? {} : { people: words.people }),
    ...(words.ordinary === true ? ordinaryLife(words.seed, days) : {}),
  }
}

async function capture(words: CaptureWords): Promise<void> {
  const startMs = words.start ?? midnight(SPRING, words.site)
  const options = { ...common(words, startMs, words.days), days: words.days, levelSensor: words.level }
  const show = process.stderr.isTTY
  const began = wallNow()
  const result = await writeCapture(options, words.out, (day) => {
    const left = ((wallNow() - began) / day) * (words.days - day)
    if (show) process.stderr.write(`\rday ${day} of ${Math.ceil(words.days)}, ${Math.ceil(left / 1_000)} s left  `)
  })
  if (show) process.stderr.write('\n')
  if (words.truth !== undefined) await writeTruth(result.truth, words.truth)
  process.stdout.write(`${words.out}: ${result.messages} messages, ${result.truth.runs.length} runs of the pump\n`)
}

async function liveSite(words: LiveWords): Promise<void> {
  const wallStartMs = words.wallStart ?? wallNow()
  const startMs = Math.floor((words.start ?? wallStartMs) / 1_000) * 1_000
  const stop = new AbortController()
  for (const signal of ['SIGTERM', 'SIGINT'] as const) process.once(signal, () => stop.abort())
  // Whoever started this over a channel and is gone wants no more of it.
  process.once('disconnect', () => stop.abort())
  const password = words.passwordFile === undefined ? null : readFileSync(words.passwordFile, 'utf8').trim()
  const ordinary = common(words, startMs, 365)
  const past = words.pastFile === undefined ? {} : { past: pastOnFile(words.pastFile, startMs, words.past) }
  const result = await runLive(
    {
      link: { outagesPerDay: words.outages },
      ...ordinary,
      ...past,
      broker: { url: words.url, username: words.username ?? null, password },
      speed: words.speed,
      wallStartMs,
      wallNow,
      log: (line) => process.stderr.write(`${JSON.stringify({ time: wallNow(), msg: line })}\n`),
    },
    stop.signal,
  )
  const days = ((result.until - startMs) / DAY).toFixed(2)
  process.stdout.write(
    `${words.site}: ${days} days, ${result.sent} messages sent, ${result.waiting} not acknowledged\n`,
  )
}

function listFaults(): void {
  for (const kind of FAULT_KINDS) {
    const { words, expects, sites, levels } = FAULTS[kind]
    process.stdout.write(`${kind}: ${words} (${sites.join(', ')}; ${expects ?? 'no alarm'})\n`)
    for (const severity of SEVERITIES) process.stdout.write(`  ${severity}: ${levels[severity].words}\n`)
  }
}

function program(): Command {
  const root = new Command('simulators').description('boards and physics of two invented sites').exitOverride()
  root.addCommand(
    siteCommand('capture', 'simulate days and write the messages as a capture')
      .option('--days <number>', 'how many', positive, 30)
      .requiredOption('--out <file>', 'NDJSON; .gz is packed')
      .option('--truth <file>', 'what really happened, JSON')
      .addOption(new Option('--level <kind>', 'level sensor').choices(['pressure', 'ultrasonic']).default('pressure'))
      .action(capture),
  )
  root.addCommand(
    siteCommand('live', 'virtual boards publish over MQTT until stopped')
      .requiredOption('--url <url>', 'broker, mqtt:// or mqtts://')
      .option('--speed <number>', 'times faster than life', positive, 1)
      .option('--wall-start <time>', 'wall time at which the site is at --start; default: now', instant)
      .option('--username <name>', '{board} in it stands for the board')
      .option('--password-file <file>', 'first line')
      .option('--outages <number>', 'outages of the link a day', (text) => (text === '0' ? 0 : positive(text)), 0)
      .option('--past <days>', 'days that it has lived before; with --past-file', positive, 1)
      .option(
        '--past-file <file>',
        'write them there, then say so to the program that started this one and wait for it',
      )
      .action(liveSite),
  )
  root.addCommand(new Command('faults').description('list the faults and their severities').action(listFaults))
  return root
}

/** 0 done, 1 failed while working, 2 the words are wrong. */
function exitCode(error: unknown): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2
  process.stderr.write(`simulators: ${error instanceof Error ? error.message : String(error)}\n`)
  return error instanceof WrongWords ? 2 : 1
}

// A reader that has seen enough of the list (`| head`) is no failure.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error
})

try {
  await program().parseAsync()
} catch (error) {
  process.exitCode = exitCode(error)
} finally {
  // A channel that is listened to would keep the program alive.
  if (process.connected) process.disconnect()
}
