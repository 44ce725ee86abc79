/**
 * The life of an alarm, lived by line, judge, outbox and teller over a store on disk, until this process kills itself
 * (SIGKILL) at the point that it is given; the next one goes on from what is on the disk. Words: folder, and the number
 * of the point, 0 for none. A point lies before and after each transaction and each delivery.
 *
 * The world outside is a few files, which outlive it: `clock` (how far time has gone), `told` (a line for each message
 * that the other side took), `killed` (at which kind of point each life ended).
 */
import { appendFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { loadConfig } from '../../../src/config/index.js'
import { Line } from '../../../src/daemon/line.js'
import { DAEMON_WELL } from '../../../src/model/daemon-facts.js'
import type { Message } from '../../../src/model/message.js'
import { LIMITS } from '../../../src/model/limits.js'
import { MINUTE, type Ms, SECOND } from '../../../src/model/time.js'
import { openStore, type Store } from '../../../src/record/store.js'
import { createTeller } from '../../../src/tell/teller.js'
import type { Way } from '../../../src/tell/way.js'
import { wayAddress } from '../../../src/tell/way-book.js'

const START = Date.UTC(2026, 4, 4, 12)
const STEP: Ms = 15 * SECOND
const END: Ms = START + 26 * MINUTE
const SITE = 's'
const [folder = '', point = '0'] = process.argv.slice(2)

let left = Number(point)
function pass(kind: string): void {
  left -= 1
  if (left !== 0) return
  appendFileSync(join(folder, 'killed'), `${kind}\n`)
  process.kill(process.pid, 'SIGKILL')
  // Nothing of this life happens any more: the signal may take a moment.
  for (;;) Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 1_000)
}

/** The other side has taken a message, and no transaction has said so yet. */
let sentUnnoted = false

function watched(store: Store): Store {
  const transaction = <T>(fn: () => T): T => {
    pass(sentUnnoted ? 'sent, not noted' : 'before a transaction')
    const result = store.transaction(fn)
    sentUnnoted = false
    pass('after a transaction')
    return result
  }
  return new Proxy(store, {
    get: (of, name) => (name === 'transaction' ? transaction : Reflect.get(of, name)),
  })
}

function way(kind: Way['kind']): Way {
  return {
    kind,
    async send({ key }: Message) {
      pass('sending')
      appendFileSync(join(folder, 'told'), `${key}\n`)
      sentUnnoted = true
      pass('sent, not noted')
      return { ok: true }
    },
  }
}

/** The rotor is held from 3 to 10 min; then it is freed, and the pump fills the tank as it should. */
function pack(at: Ms): string {
  const minute = (at - START) / MINUTE
  const fills = minute >= 14 && minute < 30
  const level = 0.9 + 0.17 * Math.min(1, Math.max(0, (minute - 14) / 16))
  const records = [
    ['pump-current', 'A', minute >= 3 && minute < 10 ? 9 : fills ? 3 : 0],
    ['tank-level', 'm', level],
    ['battery-voltage', 'V', (fills || minute < 10 ? 25.6 : 26.3) + 0.02 * Math.sin(at / 7_000)],
  ]
  return JSON.stringify(records.map(([n, u, v]) => ({ n, u, v, t: at / SECOND })))
}

async function main(): Promise<void> {
  const loaded = loadConfig(join(folder, 'site.yaml'))
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors))
  const { sites } = loaded.settings
  const clockFile = join(folder, 'clock')
  let now = existsSync(clockFile) ? Number(readFileSync(clockFile, 'utf8')) : START
  const store = watched(openStore({ file: join(folder, 'water.db'), now }))
  const fail = (fields: object, words: string): void => {
    throw new Error(`${words} ${JSON.stringify(fields)}`)
  }
  const log = { debug() {}, info() {}, warn: fail, error: fail }
  const line = new Line({ sites, store, log, judging: true, link: () => null })
  const ways = new Map([[wayAddress(SITE, 'mail'), way('email')]])
  const clock = { now: () => now }
  const teller = createTeller({ store, sites, ways, clock, log })
  for (const site of line.sites) site.resume(now - LIMITS.latenessMs)
  for (; now <= END; now += STEP) {
    writeFileSync(clockFile, String(now))
    const payload = Buffer.from(pack(now))
    line.receive([{ at: now, topic: `water/${SITE}/pump-board`, payload, retain: false }])
    line.step(now, () => DAEMON_WELL)
    acknowledge(line, now)
    await teller.tick(now)
  }
  store.close()
}

/** From the sixth minute on somebody presses the button until it has been heard. */
function acknowledge(line: Line, now: Ms): void {
  const site = line.site(SITE)
  if (site === null || now < START + 6 * MINUTE) return
  const open = site.judge.active(site.judgeState).find((alarm) => alarm.id === 'pump-stalled')
  if (open === undefined || open.acknowledgedAt !== null) return
  const change = site.judge.acknowledge(site.judgeState, open.key, 'ops', now)
  if (change === null) return
  site.gather([], [change])
  line.write(site, now)
}

main().catch((error: unknown) => {
  process.stderr.write(`${error instanceof Error ? error.stack : String(error)}\n`)
  process.exitCode = 1
})
