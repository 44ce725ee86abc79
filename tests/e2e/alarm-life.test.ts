/** kill -9 before and after every write and every delivery in the life of an alarm: raised, told, answered, over, told. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it, onTestFinished } from 'vitest'
import { bundle, everyPoint, story } from './alarm-life.js'

/** Each begins with another point, so that the kills fall on all of them. */
const STORIES = 5

it('an alarm whose daemon is killed at every step of its life is told once, or twice where a kill hid that it was', {
  timeout: 240_000,
}, () => {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-life-'))
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
  const program = bundle(folder)
  const whole = story(program, join(folder, 'whole'), () => 0)
  // The story itself: raised, answered, over.
  expect(whole).toMatchObject({ restarts: 0, unsent: 0 })
  expect(whole.told.filter((key) => key.includes('pump-stalled'))).toHaveLength(2)
  expect(whole.alarms.some((one) => /^pump-stalled:pump \d+ \d+ ops$/.test(one))).toBe(true)

  const kinds: Record<string, number> = {}
  let restarts = 0
  let repeats = 0
  for (let turn = 0; turn < STORIES; turn++) {
    const one = story(program, join(folder, `turn-${turn}`), everyPoint(turn))
    restarts += one.restarts
    for (const [kind, count] of Object.entries(one.killed)) kinds[kind] = (kinds[kind] ?? 0) + count
    // None lost, none made up, and the alarms end as they do without a kill.
    expect(new Set(one.told)).toEqual(new Set(whole.told))
    expect(one.unsent).toBe(0)
    expect(one.alarms).toEqual(whole.alarms)
    // A message comes twice only where its process died between the other side's taking it and our noting it.
    const twice = one.told.length - new Set(one.told).size
    expect(twice).toBeLessThanOrEqual(one.killed['sent, not noted'] ?? 0)
    repeats += twice
  }
  expect(restarts).toBeGreaterThan(40)
  for (const kind of ['before a transaction', 'after a transaction', 'sending', 'sent, not noted']) {
    expect(kinds[kind], kind).toBeGreaterThan(0)
  }
  process.stderr.write(`${restarts} kills ${JSON.stringify(kinds)}, ${repeats} messages twice\n`)
})
