import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { expect, it } from 'vitest'
import { SECOND } from '../../src/model/time.js'
import { folder, MIDNIGHT, open, readAll, sealAll } from './support.js'

const HAMMER = fileURLToPath(new URL('fixtures/hammer.ts', import.meta.url))
const ROUNDS = 4

/** Runs the child until it has said `commits` lines, kills it without warning, and returns the last number it said. */
async function hammerAndKill(file: string, from: number, commits: number): Promise<number> {
  const child = spawn(process.execPath, ['--import', 'tsx', HAMMER, file, String(from)], {
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  let said = ''
  child.stdout.setEncoding('utf8')
  child.stdout.on('data', (text: string) => {
    said += text
    if (said.split('\n').length > commits) child.kill('SIGKILL')
  })
  const [, signal] = await once(child, 'close')
  expect(signal).toBe('SIGKILL')
  return Number(said.slice(0, said.lastIndexOf('\n')).split('\n').at(-1))
}

it('lets no second process have the store, and the next one at once when the first is killed', async () => {
  const file = join(folder(), 'a.db')
  const child = spawn(process.execPath, ['--import', 'tsx', HAMMER, file], { stdio: ['ignore', 'pipe', 'inherit'] })
  await once(child.stdout, 'data')
  expect(() => open({ file })).toThrow(expect.objectContaining({ code: 'in-use' }))
  child.kill('SIGKILL')
  await once(child, 'exit')
  expect(open({ file }).startedWith).toBe('existing')
})

it('loses no committed sample when the process is killed while it commits and seals', async () => {
  const file = join(folder(), 'a.db')
  let safe = 0
  for (let round = 0; round < ROUNDS; round++) {
    safe = await hammerAndKill(file, safe, 25 + round * 40)
    const store = open({ file })
    expect(store.startedWith).toBe('existing')
    expect(store.check()).toEqual([])
    const ids = Array.from({ length: 10 }, (_, i) => store.series('juniper', `tank-level.${i}`))
    const held = readAll(store, ids)
    const stored = held.length
    expect(stored).toBeGreaterThanOrEqual(safe)
    held.forEach(([index, t, value], number) => {
      if (index !== number % 10 || t !== MIDNIGHT + Math.floor(number / 10) * 30 * SECOND || value !== number) {
        expect([index, t, value]).toEqual([number % 10, MIDNIGHT + Math.floor(number / 10) * 30 * SECOND, number])
      }
    })
    // One transaction: the state that was saved beside the samples tells of exactly these samples.
    expect(store.judge.load('juniper')?.text).toBe(String(stored))
    safe = stored
    store.close()
  }
  const store = open({ file })
  sealAll(store, MIDNIGHT + 1e9)
  expect(store.sizes().sealedSamples).toBe(safe)
})
