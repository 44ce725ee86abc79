import { createServer, type IncomingHttpHeaders } from 'node:http'
import type { AddressInfo } from 'node:net'
import { afterEach, describe, expect, it } from 'vitest'
import { createBeat } from '../../src/tell/beat.js'
import { signBody } from '../../src/tell/signed-post.js'
import { manualClock } from '../support/manual-clock.js'
import { AFTERNOON, SILENT_LOG } from './support.js'

const SECRET = 'a shared secret'
const closers: (() => void)[] = []
afterEach(() => {
  for (const close of closers.splice(0)) close()
})

type Heard = { readonly headers: IncomingHttpHeaders; readonly body: string }

/** A real listener on loopback, as a service elsewhere would be. */
async function listener(status = 204): Promise<{ url: string; heard: Heard[] }> {
  const heard: Heard[] = []
  const server = createServer((request, response) => {
    const pieces: Buffer[] = []
    request.on('data', (piece: Buffer) => pieces.push(piece))
    request.on('end', () => {
      heard.push({ headers: request.headers, body: Buffer.concat(pieces).toString('utf8') })
      response.writeHead(status, { location: 'http://127.0.0.1:9/elsewhere' }).end()
    })
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  closers.push(() => {
    server.closeAllConnections()
    server.close()
  })
  return { url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/beat`, heard }
}

function beatTo(url: string, failing: string[], secret: string | null = SECRET) {
  const clock = manualClock(AFTERNOON)
  const beat = createBeat({
    settings: { everyS: 300, url, secret },
    sites: ['juniper'],
    clock,
    after: (ms, run) => clock.after(ms, run),
    log: SILENT_LOG,
    prove: () => failing,
  })
  return { beat, clock }
}

describe('the beat', () => {
  it('says to a listener elsewhere that all is well, signed over the time and the body', async () => {
    const { url, heard } = await listener()
    const { beat } = beatTo(url, [])
    await beat.tick()
    expect(heard).toHaveLength(1)
    const { headers, body } = heard[0] ?? { headers: {}, body: '' }
    expect(JSON.parse(body)).toEqual({
      version: 1,
      at: new Date(AFTERNOON).toISOString(),
      count: 1,
      every_s: 300,
      sites: ['juniper'],
    })
    const stamp = Number(headers['sightglass-timestamp'])
    expect(headers['sightglass-signature']).toBe(`sha256=${signBody(SECRET, stamp, body)}`)
    expect(beat.state()).toEqual({ sentAt: AFTERNOON, trouble: null })
  })

  it('is not signed where there is no key', async () => {
    const { url, heard } = await listener()
    await beatTo(url, [], null).beat.tick()
    expect(heard[0]?.headers['sightglass-signature']).toBeUndefined()
  })

  it('is held back as soon as one part does not work, and goes out again when it does', async () => {
    const { url, heard } = await listener()
    const failing: string[] = []
    const { beat } = beatTo(url, failing)
    await beat.tick()
    failing.push('the store takes nothing: disk full')
    await beat.tick()
    await beat.tick()
    expect(heard).toHaveLength(1)
    expect(beat.state().trouble).toContain('disk full')
    failing.length = 0
    await beat.tick()
    expect(heard).toHaveLength(2)
    expect(beat.state().trouble).toBeNull()
  })

  it('counts a proof that throws as a part that does not work', async () => {
    const { url, heard } = await listener()
    const clock = manualClock(AFTERNOON)
    const beat = createBeat({
      settings: { everyS: 300, url, secret: null },
      sites: [],
      clock,
      after: (ms, run) => clock.after(ms, run),
      log: SILENT_LOG,
      prove: () => {
        throw new Error('out of memory')
      },
    })
    await beat.tick()
    expect(heard).toEqual([])
    expect(beat.state().trouble).toContain('out of memory')
  })

  it.each([
    [302, 'redirect'],
    [500, 'answered 500'],
    [401, 'answered 401'],
  ])('takes an answer of %i for no beat', async (status, words) => {
    const { url, heard } = await listener(status)
    const { beat } = beatTo(url, [])
    await beat.tick()
    expect(heard).toHaveLength(1)
    expect(beat.state().sentAt).toBeNull()
    expect(beat.state().trouble).toContain(words)
  })

  it('goes out at its interval, and no more after a stop', async () => {
    const { url, heard } = await listener()
    const { beat, clock } = beatTo(url, [])
    beat.start()
    await waitFor(() => heard.length === 1)
    await clock.advance(299_000)
    await new Promise((resolve) => setTimeout(resolve, 20))
    expect(heard).toHaveLength(1)
    await clock.advance(1_000)
    await waitFor(() => heard.length === 2)
    beat.stop()
    await clock.advance(3_600_000)
    await new Promise((resolve) => setTimeout(resolve, 20))
    expect(heard).toHaveLength(2)
  })
})

async function waitFor(holds: () => boolean): Promise<void> {
  const end = Date.now() + 10_000
  while (!holds()) {
    if (Date.now() > end) throw new Error('did not come to hold')
    await new Promise((resolve) => setTimeout(resolve, 5))
  }
}
