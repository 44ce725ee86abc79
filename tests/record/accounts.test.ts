import { scryptSync } from 'node:crypto'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { folder, NOON, open } from './support.js'

const SECRET = 'correct horse battery'

describe('accounts', () => {
  it('lets in who knows the secret, with role and site, and nobody else', async () => {
    const store = open()
    await store.accounts.add({ name: 'owner', role: 'owner' }, SECRET, NOON)
    await store.accounts.add({ name: 'tank-board', role: 'board', site: 'juniper' }, `${SECRET} 2`, NOON)
    expect(await store.accounts.verify('owner', SECRET)).toEqual({ name: 'owner', role: 'owner' })
    expect(await store.accounts.verify('tank-board', `${SECRET} 2`)).toEqual({
      name: 'tank-board',
      role: 'board',
      site: 'juniper',
    })
    expect(await store.accounts.verify('owner', `${SECRET} 2`)).toBeNull()
    expect(await store.accounts.verify('nobody', SECRET)).toBeNull()
    expect(await store.accounts.verify('', '')).toBeNull()
    expect(store.accounts.list()).toEqual([
      { name: 'owner', role: 'owner' },
      { name: 'tank-board', role: 'board', site: 'juniper' },
    ])
  })

  it('forgets a removed account and an old secret at once, though they were proved before', async () => {
    const store = open()
    await store.accounts.add({ name: 'owner', role: 'owner' }, SECRET, NOON)
    expect(await store.accounts.verify('owner', SECRET)).not.toBeNull()
    await store.accounts.add({ name: 'owner', role: 'viewer' }, 'another secret', NOON)
    expect(await store.accounts.verify('owner', SECRET)).toBeNull()
    expect(await store.accounts.verify('owner', 'another secret')).toEqual({ name: 'owner', role: 'viewer' })
    expect(store.accounts.remove('owner')).toBe(true)
    expect(store.accounts.remove('owner')).toBe(false)
    expect(await store.accounts.verify('owner', 'another secret')).toBeNull()
  })

  it('is quick the second time, so that a storm of reconnects does not stall the daemon', async () => {
    const store = open()
    await store.accounts.add({ name: 'board', role: 'board' }, SECRET, NOON)
    await store.accounts.verify('board', SECRET)
    const start = process.hrtime.bigint()
    for (let i = 0; i < 500; i++) expect(await store.accounts.verify('board', SECRET)).not.toBeNull()
    // 500 runs of scrypt at this cost take far more than 10 s on any machine.
    expect(Number(process.hrtime.bigint() - start) / 1e9).toBeLessThan(5)
  })

  it('answers each of many who come at once', async () => {
    const store = open()
    await store.accounts.add({ name: 'board', role: 'board' }, SECRET, NOON)
    const answers = await Promise.all(
      Array.from({ length: 12 }, (_, i) => store.accounts.verify('board', i % 3 === 0 ? SECRET : `wrong ${i}`)),
    )
    expect(answers.map((answer) => answer !== null)).toEqual(answers.map((_, i) => i % 3 === 0))
  })

  it('keeps only a salted scrypt hash of RFC 7914 with N = 2^15, r = 8, p = 1', async () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    await store.accounts.add({ name: 'a', role: 'viewer' }, SECRET, NOON)
    await store.accounts.add({ name: 'b', role: 'viewer' }, SECRET, NOON)
    store.close()
    const db = new Database(file, { readonly: true })
    const rows = db.prepare<[], { salt: Buffer; hash: Buffer }>('SELECT salt, hash FROM account ORDER BY name').all()
    db.close()
    const [a, b] = rows
    expect(a?.salt.equals(b?.salt ?? Buffer.alloc(0))).toBe(false)
    const again = scryptSync(SECRET, a?.salt ?? '', 32, { N: 32_768, r: 8, p: 1, maxmem: 64 * 1024 * 1024 })
    expect(a?.hash.equals(again)).toBe(true)
  })

  it.each([
    ['', SECRET],
    ['owner', ''],
    ['owner', 'x'.repeat(2_000)],
  ])('refuses the name "%s" with such a secret', async (name, secret) => {
    await expect(open().accounts.add({ name, role: 'owner' }, secret, NOON)).rejects.toThrow(/empty or too long/)
  })
})
