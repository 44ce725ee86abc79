import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { afterAll, expect, test } from 'vitest'
import { writeCapture, writeTruth } from '../../simulators/capture.js'
import { ordinaryLife } from '../../simulators/ordinary.js'
import { simulate } from '../../simulators/simulate.js'
import { START } from './watch.js'

const folder = mkdtempSync(join(tmpdir(), 'sightglass-capture-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const options = { site: 'fern', seed: 2, startMs: START, days: 0.5 } as const

test('a capture has a line for each message, in order of receipt, as the contract lays them out', async () => {
  const file = join(folder, 'half-a-day.ndjson')
  const { messages, truth } = await writeCapture(options, file)
  const lines = readFileSync(file, 'utf8').trimEnd().split('\n')
  expect(lines).toHaveLength(messages)
  expect(messages).toBe(8_640)
  const expected = [...simulate(options).messages]
  for (const [i, line] of lines.entries()) {
    const { at, topic, payload, ...rest } = JSON.parse(line)
    expect(rest).toEqual({})
    expect({ at: Math.round(at * 1_000), topic, payload }).toEqual(expected[i])
  }
  expect(truth.end).toBe(START + 43_200_000)
})

test('a packed capture holds the same bytes', async () => {
  await writeCapture(options, join(folder, 'plain.ndjson'))
  await writeCapture(options, join(folder, 'packed.ndjson.gz'))
  const plain = readFileSync(join(folder, 'plain.ndjson'))
  expect(gunzipSync(readFileSync(join(folder, 'packed.ndjson.gz'))).equals(plain)).toBe(true)
})

test('each day is told of while a long capture is written', async () => {
  const days: number[] = []
  await writeCapture({ ...options, days: 3 }, join(folder, 'days.ndjson'), (day) => days.push(day))
  expect(days.length).toBeGreaterThanOrEqual(3)
  expect(days.every((day, i) => i === 0 || day > (days[i - 1] ?? 0))).toBe(true)
})

test('a file that cannot be written is an error', async () => {
  await expect(writeCapture(options, join(folder, 'nowhere', 'x.ndjson'))).rejects.toThrow('ENOENT')
})

test('the truth is written as JSON', async () => {
  const { truth } = await writeCapture({ ...options, days: 2 }, join(folder, 'x.ndjson'))
  await writeTruth(truth, join(folder, 'truth.json'))
  const read = JSON.parse(readFileSync(join(folder, 'truth.json'), 'utf8'))
  expect(read.runs.length).toBe(truth.runs.length)
  expect(read.balance.usedL).toBe(truth.balance.usedL)
})

test('ordinary life has guests, empty days, storms and outages after a quiet first week, and loses no sample', () => {
  const life = ordinaryLife(4, 60)
  for (const spells of [life.guests, life.away, life.storms]) {
    expect(spells.length).toBeGreaterThan(0)
    expect(spells.every(({ fromDay, toDay }) => fromDay >= 7 && toDay > fromDay)).toBe(true)
  }
  const { messages, truth } = simulate({ site: 'juniper', seed: 4, startMs: START, days: 8, ...ordinaryLife(4, 8) })
  const count = [...messages].length
  expect(count).toBe(8 * 8_640 * 3)
  expect(truth.marks.filter(({ what }) => what === 'link-down').length).toBeGreaterThan(5)
})
