import type { LookupAddress } from 'node:dns'
import type { LookupOptions } from 'node:dns'
import { describe, expect, it } from 'vitest'
import { isPublicAddress, publicLookup } from '../../src/tell/public-lookup.js'

/** Asks as node:net does, of a name service that answers this. */
function ask(answers: readonly string[], options: LookupOptions = {}) {
  const service = (_name: string, _options: unknown, done: (error: null, all: LookupAddress[]) => void) =>
    done(
      null,
      answers.map((address) => ({ address, family: address.includes(':') ? 6 : 4 })),
    )
  return new Promise<{ error: NodeJS.ErrnoException | null; found: unknown }>((resolve) => {
    publicLookup(service as never)('push.example.org', options, (error, found) => resolve({ error, found }))
  })
}

describe('an address that a stranger chose', () => {
  // RFC 6890 (special-purpose addresses), RFC 1918, RFC 3927, RFC 6598, RFC 4193, RFC 4291.
  it.each([
    '0.0.0.0',
    '10.20.30.40',
    '100.64.0.1',
    '127.0.0.1',
    '169.254.169.254',
    '172.16.0.1',
    '172.31.255.255',
    '192.168.1.1',
    '198.19.0.1',
    '224.0.0.1',
    '255.255.255.255',
    '::',
    '::1',
    'fd12:3456::1',
    'fe80::1',
    '::ffff:127.0.0.1',
    '::ffff:192.168.1.1',
    '64:ff9b::7f00:1',
  ])('is not called where its name turns out to be %s', async (address) => {
    expect(isPublicAddress(address)).toBe(false)
    const { error } = await ask([address])
    expect(error).toMatchObject({ code: 'EACCES', message: expect.stringContaining(address) })
  })

  it('is not called either where only one of several answers lies near', async () => {
    expect((await ask(['192.0.2.10', '10.0.0.1'], { all: true })).error?.code).toBe('EACCES')
    expect((await ask([])).error?.code).toBe('EACCES')
  })

  it('of the wide net is handed on in the form that was asked for', async () => {
    // 93.184.216.34 and 2606:2800::1 stand for any public address.
    expect(await ask(['93.184.216.34'])).toEqual({ error: null, found: '93.184.216.34' })
    const all = await ask(['93.184.216.34', '2606:2800::1'], { all: true })
    expect(all.found).toEqual([
      { address: '93.184.216.34', family: 4 },
      { address: '2606:2800::1', family: 6 },
    ])
    expect(['172.15.0.1', '172.32.0.1', '100.128.0.1', '11.0.0.1'].every(isPublicAddress)).toBe(true)
  })
})
