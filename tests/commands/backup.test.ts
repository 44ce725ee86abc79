import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, it, onTestFinished } from 'vitest'
import { openStore } from '../../src/record/store.js'
import { exampleFile } from '../support/example-config.js'
import { folder, verb } from './support.js'

const WRITER = fileURLToPath(new URL('../record/fixtures/hammer.ts', import.meta.url))

describe('backup', () => {
  it('copies the store of one instant while another process writes it as fast as it can', async () => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    const writer = spawn(process.execPath, ['--import', 'tsx', WRITER, join(path, 'juniper.db')], {
      stdio: ['ignore', 'pipe', 'inherit'],
    })
    onTestFinished(() => void writer.kill('SIGKILL'))
    let said = ''
    writer.stdout.setEncoding('utf8').on('data', (text: string) => {
      said += text
    })
    await once(writer.stdout, 'data')
    const safe = () => Number(said.slice(0, said.lastIndexOf('\n')).split('\n').at(-1))
    for (let round = 0; round < 3; round += 1) {
      const before = safe()
      const out = join(path, `copy-${round}.db`)
      const { code, out: words, err } = await verb(['backup', '--config', config, '--out', out])
      expect({ code, err }).toEqual({ code: 0, err: '' })
      expect(words).toContain(out)
      expect(existsSync(`${out}-wal`)).toBe(false)
      const copy = openStore({ file: out, now: 0 })
      expect(copy.startedWith).toBe('existing')
      expect(copy.check()).toEqual([])
      let samples = 0
      copy.read(
        copy.seriesList('juniper').map((one) => one.id),
        0,
        Number.MAX_SAFE_INTEGER,
        () => {
          samples += 1
        },
      )
      // The writer commits its samples with a row that says how many there are: one instant holds both.
      expect(copy.judge.load('juniper')?.text).toBe(String(samples))
      expect(samples).toBeGreaterThanOrEqual(before)
      copy.close()
      // Lets the writer say more before the next round.
      await once(writer.stdout, 'data')
    }
  })

  it('will not write over the store itself', async () => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    const { code, err } = await verb(['backup', '--config', config, '--out', join(path, 'juniper.db')])
    expect(code).toBe(2)
    expect(err).toContain('--out')
  })

  it('takes the place of an earlier copy, but of no other file and no folder', async () => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    openStore({ file: join(path, 'juniper.db'), now: 0 }).close()
    const before = readFileSync(config, 'utf8')
    for (const out of [config, path]) {
      const { code, err } = await verb(['backup', '--config', config, '--out', out])
      expect(code).toBe(2)
      expect(err).toContain('no earlier copy')
    }
    expect(readFileSync(config, 'utf8')).toBe(before)
    const again = ['backup', '--config', config, '--out', join(path, 'copy.db')]
    expect([(await verb(again)).code, (await verb(again)).code]).toEqual([0, 0])
  })
})
