/**
 * What the store can do on this machine: `node --import tsx tests/bench/record.ts`. Prints one JSON line a figure.
 * The samples are drawn from a seeded generator in the shapes that boards send (millimetres, centivolts, converter
 * steps after a change of unit, full doubles, contacts), so that the packed size is near what a site will see.
 */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { DAY } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'

const START = Date.UTC(2026, 0, 1)
const EVERY_MS = 10_000
const DAYS = 30
const BATCH = 300

let seed = 1
function noise(): number {
  let sum = -1.5
  for (let i = 0; i < 3; i++) {
    seed = (Math.imul(seed, 1_103_515_245) + 12_345) & 0x7fffffff
    sum += seed / 0x7fffffff
  }
  return sum
}

function rounded(value: number, steps: number): number {
  return Math.round(value * steps) / steps
}

const SHAPES: readonly (readonly [string, (t: number) => number])[] = [
  ['level in whole millimetres', (t) => rounded(0.8 + 0.4 * Math.sin(t / 2e7) + 0.003 * noise(), 1_000)],
  ['voltage in hundredths', (t) => rounded(25 + Math.sin(t / 1.4e7) + 0.05 * noise(), 100)],
  ['current in hundredths', (t) => rounded((Math.sin(t / 3e6) > 0.9 ? 4.5 : 0) + 0.05 * noise(), 100)],
  ['temperature in sixteenths', (t) => rounded(5 + 8 * Math.sin(t / 1.4e7) + 0.1 * noise(), 16)],
  ['level in tenths of an inch, as metres', (t) => rounded(30 + 14 * Math.sin(t / 2e7) + 0.1 * noise(), 10) * 0.0254],
  ['voltage in full doubles', (t) => 25 + Math.sin(t / 1.4e7) + 0.05 * noise()],
  ['contact', (t) => (Math.sin(t / 2e7) > 0 ? 1 : 0)],
]

function secondsOf(work: () => void): number {
  const start = process.hrtime.bigint()
  work()
  return Number(process.hrtime.bigint() - start) / 1e9
}

function say(what: string, value: number, unit: string): void {
  process.stdout.write(`${JSON.stringify({ what, value: Number(value.toPrecision(4)), unit })}\n`)
}

const home = mkdtempSync(join(tmpdir(), 'store-bench-'))
const store = openStore({ file: join(home, 'a.db'), now: START })
try {
  const ids = SHAPES.map(([name]) => store.series('juniper', name))
  const perDay = DAY / EVERY_MS
  const batch = Math.floor(BATCH / SHAPES.length)
  let stageS = 0
  let commitS = 0
  let commits = 0
  let sealS = 0
  for (let day = 0; day < DAYS; day++) {
    for (let first = 0; first < perDay; first += batch) {
      const values: number[] = []
      const until = Math.min(perDay, first + batch)
      for (let i = first; i < until; i++) for (const [, shape] of SHAPES) values.push(shape(day * DAY + i * EVERY_MS))
      stageS += secondsOf(() => {
        values.forEach((value, k) => {
          const t = START + day * DAY + (first + Math.floor(k / ids.length)) * EVERY_MS
          store.stage(ids[k % ids.length] ?? 0, t, value)
        })
      })
      commitS += secondsOf(() => store.commit())
      commits++
    }
    const now = START + (day + 1) * DAY
    sealS += secondsOf(() => {
      while (store.sealDue(now)) store.seal(now)
    })
  }
  const samples = DAYS * perDay * ids.length
  say('stage one sample', (stageS / samples) * 1e9, 'ns')
  say(`commit ${batch * ids.length} samples`, (commitS / commits) * 1e3, 'ms')
  say('stage and commit', samples / (stageS + commitS), 'samples/s')
  while (store.sealDue(START + (DAYS + 9) * DAY)) store.seal(START + (DAYS + 9) * DAY)
  const sizes = store.sizes()
  say('seal', samples / sealS, 'samples/s')
  say('packed size', sizes.blockBytes / sizes.sealedSamples, 'B/sample')
  let n = 0
  const readS = secondsOf(() => {
    store.read(ids, START, START + DAYS * DAY, () => {
      n++
    })
  })
  say(`read ${ids.length} series merged`, n / readS, 'samples/s')
  for (const days of [1, 7, DAYS]) {
    const chartS = secondsOf(() => void store.chart(ids[1] ?? 0, START + (DAYS - days) * DAY, START + DAYS * DAY, 500))
    say(`chart of ${days} days, 500 points`, chartS * 1e3, 'ms')
  }
} finally {
  store.close()
  rmSync(home, { recursive: true, force: true })
}
