/**
 * Kills at every step of an alarm's life. As a script, `npx tsx tests/e2e/alarm-life.ts 200`, it goes on with new
 * stories until there have been so many restarts, and prints what came of them.
 */
import { spawnSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { buildSync } from 'esbuild'
import { openStore } from '../../src/record/store.js'
import { writeConfig } from '../support/example-config.js'
import { stallSite } from './stall.js'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const LIVES_MAX = 150

export type Story = {
  readonly restarts: number
  /** Kills by kind of point. */
  readonly killed: Readonly<Record<string, number>>
  /** Keys of messages as the other side took them, repeats included. */
  readonly told: readonly string[]
  /** Alarms as they stand in the store at the end, and messages not sent. */
  readonly alarms: readonly string[]
  readonly unsent: number
}

/** The program in one file, so that two hundred starts cost seconds. Its libraries are found by NODE_PATH. */
export function bundle(folder: string): string {
  const outfile = join(folder, 'alarm-life.cjs')
  buildSync({
    entryPoints: [join(ROOT, 'tests/e2e/programs/alarm-life.ts')],
    outfile,
    bundle: true,
    platform: 'node',
    format: 'cjs',
    packages: 'external',
    logLevel: 'error',
  })
  return outfile
}

/** One story in a folder of its own; `points` says at which point each life ends, 0 or nothing: it lives on. */
export function story(program: string, folder: string, points: (life: number) => number): Story {
  mkdirSync(folder, { recursive: true })
  const { store: _store, ...site } = stallSite('s')
  writeConfig(folder, 'site.yaml', {
    ...site,
    store: { file: 'water.db' },
    broker: { embedded: { host: '127.0.0.1', port: 1, anonymous: true } },
    tell: {
      people: [{ name: 'ops', ways: ['mail'] }],
      // The program puts a way of its own in the place of this one.
      ways: { mail: { kind: 'mqtt', topic: 'water/s/mail' } },
      self_test: 'never',
    },
  })
  let restarts = 0
  for (let life = 0; ; life++) {
    if (life > LIVES_MAX) throw new Error(`not at its end after ${LIVES_MAX} lives`)
    const env = { ...process.env, NODE_PATH: join(ROOT, 'node_modules') }
    const ended = spawnSync(process.execPath, [program, folder, String(points(life))], { env, encoding: 'utf8' })
    if (ended.signal === 'SIGKILL') restarts += 1
    else if (ended.status === 0) break
    else throw new Error(`life ${life} ended with ${ended.status ?? ended.signal}: ${ended.stderr}`)
  }
  return { restarts, ...outcome(folder) }
}

function outcome(folder: string): Omit<Story, 'restarts'> {
  const lines = (name: string): string[] => {
    try {
      return readFileSync(join(folder, name), 'utf8').split('\n').filter(Boolean)
    } catch {
      return []
    }
  }
  const killed: Record<string, number> = {}
  for (const kind of lines('killed')) killed[kind] = (killed[kind] ?? 0) + 1
  const store = openStore({ file: join(folder, 'water.db'), now: Date.now(), readOnly: true })
  const alarms = store.alarms
    .list('s', 0, Number.MAX_SAFE_INTEGER)
    .map(({ key, raised, cleared, acknowledgedBy }) => `${key} ${raised} ${cleared} ${acknowledgedBy}`)
  const { waiting, failed } = store.outbox.counts()
  store.close()
  return { killed, told: lines('told'), alarms, unsent: waiting + failed }
}

/**
 * Six points in turn, after the two of a life's start: what was derived is written again first, and the note of a
 * delivery is the fifth. Fewer would never get past it, and the same message would be sent for ever.
 */
export const everyPoint =
  (turn: number) =>
  (life: number): number =>
    3 + ((life + turn) % 6)

if (process.argv[1] !== undefined && fileURLToPath(import.meta.url) === process.argv[1]) {
  const wanted = Math.min(Number(process.argv[2] ?? 200), 2_000)
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-life-'))
  try {
    const program = bundle(folder)
    const whole = new Set(story(program, join(folder, 'whole'), () => 0).told)
    let restarts = 0
    let twice = 0
    let lost = 0
    const killed: Record<string, number> = {}
    for (let turn = 0; restarts < wanted; turn++) {
      // Later, lives end anywhere, while they start too.
      const points = turn < 6 ? everyPoint(turn) : (life: number) => 1 + ((life * 7 + turn * 5) % 11)
      const one = story(program, join(folder, `story-${turn}`), points)
      restarts += one.restarts
      twice += one.told.length - new Set(one.told).size
      lost += [...whole].filter((key) => !one.told.includes(key)).length + one.unsent
      for (const [kind, count] of Object.entries(one.killed)) killed[kind] = (killed[kind] ?? 0) + count
    }
    process.stdout.write(`${JSON.stringify({ restarts, lost, twice, killed })}\n`)
    process.exitCode = lost === 0 && twice <= (killed['sent, not noted'] ?? 0) ? 0 : 1
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
