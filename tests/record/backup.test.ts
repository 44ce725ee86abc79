import { existsSync, readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { DAY, MINUTE } from '../../src/model/time.js'
import { backupFile } from '../../src/record/backup.js'
import { folder, MIDNIGHT, open, readAll, sealAll } from './support.js'

describe('a backup', () => {
  it('made while samples go on coming in is whole, and of one commit', async () => {
    const home = folder()
    const store = open({ file: join(home, 'a.db') })
    const series = store.series('juniper', 'tank-level')
    let n = 0
    const write = () => {
      for (let k = 0; k < 10; k++, n++) store.stage(series, MIDNIGHT + n * MINUTE, Math.sin(n))
      store.commit(() => store.judge.save('juniper', MIDNIGHT, String(n)))
    }
    for (let i = 0; i < 1_000; i++) write()
    sealAll(store, MIDNIGHT + 4 * DAY)
    const before = n
    let done = false
    const copying = store.backup(join(home, 'copy.db')).then(() => {
      done = true
    })
    while (!done) {
      write()
      await new Promise((resolve) => setImmediate(resolve))
    }
    await copying
    expect(n).toBeGreaterThan(before)
    const copy = open({ file: join(home, 'copy.db') })
    expect(copy.startedWith).toBe('existing')
    expect(copy.check()).toEqual([])
    const held = readAll(copy, [copy.series('juniper', 'tank-level')])
    expect(copy.judge.load('juniper')?.text).toBe(String(held.length))
    expect(held.length).toBeGreaterThanOrEqual(before)
    expect(held).toEqual(readAll(store, [series]).slice(0, held.length))
  })

  it('of a store that another process has open is whole too, and leaves one plain file', async () => {
    const home = folder()
    const store = open({ file: join(home, 'a.db') })
    const series = store.series('juniper', 'tank-level')
    for (let i = 0; i < 5_000; i++) store.stage(series, MIDNIGHT + i * MINUTE, i)
    store.commit()
    await backupFile(join(home, 'a.db'), join(home, 'copy.db'))
    expect(readdirSync(home).filter((name) => name.startsWith('copy'))).toEqual(['copy.db'])
    const copy = open({ file: join(home, 'copy.db') })
    expect(readAll(copy, [series])).toHaveLength(5_000)
  })

  it('that cannot be made leaves the one before alone', async () => {
    const home = folder()
    const file = join(home, 'copy.db')
    writeFileSync(file, 'the one before')
    await expect(backupFile(join(home, 'nowhere.db'), file)).rejects.toThrow(/no such file/)
    writeFileSync(join(home, 'junk.db'), 'junk '.repeat(5_000))
    await expect(backupFile(join(home, 'junk.db'), file)).rejects.toThrow(/back|copy/)
    await expect(open().backup(join(home, 'nowhere', 'copy.db'))).rejects.toThrow(/nowhere/)
    expect(existsSync(file)).toBe(true)
    expect(readdirSync(home).sort()).toEqual(['copy.db', 'junk.db'])
  })
})
