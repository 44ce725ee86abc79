/**
 * How fast the decoder is: 3-record packs of one board, the ordinary load. Run with `npx tsx tests/bench/decode.ts`.
 */
import { createDecoder } from '../../src/decode/decoder.js'
import { siteOf } from '../decode/site.js'

const PACKS = 100_000
const ROUNDS = 5

const at = 1_764_000_000_000
const encoder = new TextEncoder()
const arrivals = Array.from({ length: 1_000 }, (_, index) => ({
  at: at + index * 10_000,
  topic: 'water/juniper/pump-board',
  payload: encoder.encode(
    JSON.stringify([
      { bn: 'pump-board:', bt: (at + index * 10_000) / 1000, n: 'pump-current', u: 'A', v: 4.1 + (index % 7) / 100 },
      { n: 'battery-voltage', u: 'V', v: 25.31 - (index % 11) / 100 },
      { n: 'battery-temperature', u: 'Cel', v: 11.3 },
    ]),
  ),
  retain: false,
}))
const decoder = createDecoder([siteOf()])

let best = 0
for (let round = 0; round < ROUNDS; round++) {
  let samples = 0
  const start = performance.now()
  for (let index = 0; index < PACKS; index++) {
    const arrival = arrivals[index % arrivals.length]
    if (arrival === undefined) continue
    for (const decoded of decoder.decode(arrival)) samples += decoded.samples.length
  }
  const tookS = (performance.now() - start) / 1000
  if (samples !== PACKS * 3) throw new Error(`expected ${PACKS * 3} samples, found ${samples}`)
  best = Math.max(best, samples / tookS)
}
console.log(`decode: ${Math.round(best / 1000)} thousand records a second (3-record packs, best of ${ROUNDS})`)
