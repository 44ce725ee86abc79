import { describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { DAY, HOUR } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'

const NOW = Date.UTC(2026, 4, 20)
const NEW = { name: 'collector', role: 'viewer', madeBy: 'ops', until: null } as const
const store = () => openStore({ file: ':memory:', now: NOW })

describe('a token for a script', () => {
  it('is good by its text alone, until its end, and then for nothing', () => {
    const { tokens } = store()
    const text = tokens.make({ ...NEW, until: NOW + DAY }, NOW)
    expect(tokens.verify(text, NOW + DAY - 1)).toMatchObject({ name: 'collector', role: 'viewer' })
    expect(tokens.verify(text, NOW + DAY)).toBeNull()
    const turned = text.slice(0, -1) + (text.endsWith('A') ? 'B' : 'A')
    for (const wrong of ['', text.slice(1), turned, `${text}=`, text.toUpperCase(), 'sightglass_0_0']) {
      expect(tokens.verify(wrong, NOW)).toBeNull()
    }
  })

  it('is good for nothing as soon as it is revoked, and its name is free again', () => {
    const { tokens } = store()
    const text = tokens.make(NEW, NOW)
    expect(() => tokens.make(NEW, NOW)).toThrow(/there already/)
    expect(tokens.revoke('collector')).toBe(true)
    expect(tokens.verify(text, NOW)).toBeNull()
    expect(tokens.revoke('collector')).toBe(false)
    expect(tokens.make(NEW, NOW)).not.toBe(text)
  })

  it('is kept only as a salted hash: its text is nowhere in the file', async () => {
    const kept = store()
    const text = kept.tokens.make(NEW, NOW)
    const secret = text.slice(-43)
    expect(Buffer.from(secret, 'base64url').length).toBe(32)
    expect(JSON.stringify(kept.tokens.list())).not.toContain(secret)
    const { mkdtempSync, readFileSync, rmSync } = await import('node:fs')
    const { tmpdir } = await import('node:os')
    const { join } = await import('node:path')
    const folder = mkdtempSync(join(tmpdir(), 'sightglass-tokens-'))
    try {
      await kept.backup(join(folder, 'copy.db'))
      const bytes = readFileSync(join(folder, 'copy.db'))
      expect(bytes.includes('collector')).toBe(true)
      expect(bytes.includes(secret)).toBe(false)
      expect(bytes.includes(Buffer.from(secret, 'base64url'))).toBe(false)
    } finally {
      rmSync(folder, { recursive: true, force: true })
    }
  })

  it('says on which day it was last used, written once a day', () => {
    const { tokens } = store()
    const text = tokens.make(NEW, NOW)
    expect(tokens.list()[0]?.usedAt).toBeNull()
    tokens.verify(text, NOW + HOUR)
    tokens.verify(text, NOW + 2 * HOUR)
    expect(tokens.list()[0]?.usedAt).toBe(NOW + HOUR)
    tokens.verify(text, NOW + 2 * DAY)
    expect(tokens.list()[0]?.usedAt).toBe(NOW + 2 * DAY)
  })

  it('is one of a bounded number', () => {
    const { tokens } = store()
    for (let i = 0; i < LIMITS.tokensMax; i++) tokens.make({ ...NEW, name: `t${i}` }, NOW)
    expect(() => tokens.make(NEW, NOW)).toThrow(/expected fewer/)
  })
})
