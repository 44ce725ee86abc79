/** What a sample costs when a hundred days are stored already, beside what it cost in the first ones. */
import { simulate } from '../../simulators/simulate.js'
import { loadConfig } from '../../src/config/load.js'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import type { Arrival } from '../../src/model/sample.js'
import { DAY } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
const START = Date.UTC(2026, 4, 4, 7)
const PART_DAYS = 10
/** As `replay` does. */
const OPEN_SAMPLES = 2_000_000

/** Samples a second of processor time, in each part of ten days. The program is warmed up on a run of its own. */
export async function ratesByHistory(config: string, days: number): Promise<readonly number[]> {
  await partRates(config, PART_DAYS)
  return partRates(config, days)
}

async function partRates(config: string, days: number): Promise<readonly number[]> {
  const loaded = loadConfig(config)
  if (!loaded.ok) throw new Error(`${config} does not load`)
  const store = openStore({ file: ':memory:', now: 0 })
  const line = new Line({ sites: loaded.settings.sites, store, log: LOG, judging: true, link: () => null })
  const rates: number[] = []
  let samplesBefore = 0
  const arrivals = function* (): Generator<Arrival> {
    const { messages } = simulate({ site: 'juniper', seed: 1, startMs: START, days })
    for (let part = 1; part <= days / PART_DAYS; part++) {
      // The simulator's own time is not counted: a part is made ahead, then taken in.
      const made: Arrival[] = []
      const until = START + part * PART_DAYS * DAY
      for (let next = messages.next(); next.done !== true; next = messages.next()) {
        const { at, topic, payload } = next.value
        made.push({ at, topic, payload: Buffer.from(payload), retain: false })
        if (at >= until) break
      }
      const from = process.cpuUsage()
      yield* made
      const { user, system } = process.cpuUsage(from)
      rates.push((line.counts.samples - samplesBefore) / ((user + system) / 1e6))
      samplesBefore = line.counts.samples
    }
  }
  await drive(line, arrivals(), {
    commitMessages: 500,
    onStep: (now) => {
      if (now % DAY !== 0) return
      line.commitKept()
      if (store.sizes().openSamples > OPEN_SAMPLES && store.sealDue(now)) store.seal(now)
    },
  })
  store.close()
  return rates
}
