import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { openStore } from '../../src/record/store.js'
import { exampleFile } from '../support/example-config.js'
import { folder, lines, verb } from './support.js'

const NOW = Date.UTC(2026, 4, 20)

/** A site whose store has never been opened, in a folder that is not there yet. */
function newSite(): { config: string; file: string } {
  const path = folder()
  return {
    config: exampleFile(path, 'juniper', { store: { file: 'data/juniper.db' } }),
    file: join(path, 'data', 'juniper.db'),
  }
}

describe('account', () => {
  it('adds, lists and removes, also before the daemon has ever run', async () => {
    const { config, file } = newSite()
    const added = await verb(['account', 'add', 'ops', '--role', 'owner', '--config', config], {
      readSecret: () => 'a long and good secret',
    })
    expect(added).toEqual({ code: 0, out: 'ops (owner) added\n', err: '' })
    const board = ['account', 'add', 'tank-board', '--role', 'board', '--site', 'juniper', '--config', config]
    await verb(board, { readSecret: () => 'lupine' })
    const listed = await verb(['account', 'list', '--config', config])
    expect(lines(listed.out)).toEqual(['ops\towner\tall sites', 'tank-board\tboard\tjuniper'])
    const store = openStore({ file, now: NOW, readOnly: true })
    expect(await store.accounts.verify('ops', 'a long and good secret')).toEqual({ name: 'ops', role: 'owner' })
    expect(await store.accounts.verify('ops', 'another secret')).toBeNull()
    store.close()
    expect((await verb(['account', 'remove', 'ops', '--config', config])).out).toBe('ops removed\n')
    expect(lines((await verb(['account', 'list', '--config', config])).out)).toEqual(['tank-board\tboard\tjuniper'])
  })

  it('makes a secret where none is given, shows it once, and it works', async () => {
    const { config, file } = newSite()
    const { out } = await verb(['account', 'add', 'ops', '--role', 'viewer', '--config', config])
    const secret = /shown this once: ([\w-]{20,})\n$/.exec(out)?.[1] ?? ''
    const store = openStore({ file, now: NOW, readOnly: true })
    expect(await store.accounts.verify('ops', secret)).toEqual({ name: 'ops', role: 'viewer' })
    store.close()
    expect((await verb(['account', 'list', '--config', config])).out).not.toContain(secret)
  })

  it('says so when a secret is replaced, and when no board of the configuration has the name', async () => {
    const { config } = newSite()
    const words = ['account', 'add', 'tank-bord', '--role', 'board', '--config', config]
    const first = await verb(words)
    expect(first.code).toBe(0)
    expect(lines(first.err)).toEqual([expect.stringMatching(/no board "tank-bord".*tank-board, pump-board/)])
    const again = await verb(words)
    expect(lines(again.err)[0]).toContain('its old secret is no longer good')
    const good = await verb(['account', 'add', 'tank-board', '--role', 'board', '--config', config])
    expect(good.err).toBe('')
  })

  it('makes tokens for scripts, shows each once, lists and revokes them, and the journal says so', async () => {
    const { config, file } = newSite()
    const made = await verb(['account', 'token', 'collector', '--until', '2036-01-01', '--config', config])
    const text = /shown this once: (sightglass_\w+_[\w-]{43})\n$/.exec(made.out)?.[1] ?? ''
    const again = await verb(['account', 'token', 'collector', '--config', config])
    expect(again).toMatchObject({ code: 2, err: expect.stringContaining('there is a token "collector" already') })
    const late = await verb(['account', 'token', 'late', '--until', '2020-01-01', '--config', config])
    expect(late).toMatchObject({ code: 2, err: expect.stringContaining('has passed') })
    const board = await verb(['account', 'token', 'board', '--role', 'board', '--config', config])
    expect(board).toMatchObject({ code: 2, err: expect.stringContaining('expected owner, viewer') })
    const listed = await verb(['account', 'list', '--config', config])
    expect(lines(listed.out)).toEqual(['collector\ttoken, viewer\tuntil 2036-01-01T00:00:00.000Z'])
    const daemon = openStore({ file, now: NOW })
    expect(daemon.tokens.verify(text, NOW)).toMatchObject({ name: 'collector', role: 'viewer', madeBy: 'command line' })
    // Beside the process that has the store.
    expect((await verb(['account', 'revoke', 'collector', '--config', config])).out).toBe('collector revoked\n')
    expect(daemon.tokens.verify(text, NOW)).toBeNull()
    expect(daemon.journal.list('juniper', 0, 1e15).map(({ by, text: words }) => `${by}: ${words}`)).toEqual([
      'command line: Token "collector" made for a script (viewer, until 2036-01-01T00:00:00.000Z)',
      'command line: Token "collector" revoked',
    ])
    daemon.close()
  })

  it('says in one line what to do about a folder that cannot be made', async () => {
    const path = folder()
    writeFileSync(join(path, 'data'), 'a file where a folder is due')
    const config = exampleFile(path, 'juniper', { store: { file: 'data/deep/juniper.db' } })
    const { code, err } = await verb(['account', 'add', 'ops', '--role', 'owner', '--config', config])
    expect(code).toBe(1)
    expect(lines(err)).toEqual([expect.stringMatching(/store\.file.*ENOTDIR.*writable for this user/)])
  })

  it('works beside a process that has the store, and that one knows of it at once', async () => {
    const { config, file } = newSite()
    await verb(['account', 'add', 'ops', '--role', 'owner', '--config', config])
    const daemon = openStore({ file, now: NOW })
    try {
      const added = await verb(['account', 'add', 'neighbour', '--role', 'viewer', '--config', config], {
        readSecret: () => 'lupine',
      })
      expect(added).toEqual({ code: 0, out: 'neighbour (viewer) added\n', err: '' })
      expect(await daemon.accounts.verify('neighbour', 'lupine')).toEqual({ name: 'neighbour', role: 'viewer' })
      expect((await verb(['account', 'remove', 'neighbour', '--config', config])).code).toBe(0)
      expect(await daemon.accounts.verify('neighbour', 'lupine')).toBeNull()
    } finally {
      daemon.close()
    }
  })

  it.each([
    ['a role that is none', ['add', 'ops', '--role', 'king'], 'owner, viewer, board'],
    ['no role', ['add', 'ops'], '(none)'],
    ['no name', ['remove'], 'NAME'],
    ['a name that is not there', ['remove', 'nobody'], '"nobody"'],
    ['a site that is not there', ['add', 'ops', '--role', 'viewer', '--site', 'fern'], 'juniper'],
  ])('answers %s with exit code 2', async (_what, words, said) => {
    const { config } = newSite()
    await verb(['account', 'add', 'someone', '--role', 'viewer', '--config', config])
    const { code, err } = await verb(['account', ...words, '--config', config])
    expect(code).toBe(2)
    expect(lines(err)).toHaveLength(1)
    expect(err).toContain(said)
  })
})
