import { createServer, type Socket } from 'node:net'
import * as fc from 'fast-check'
import { describe, expect, onTestFinished, test } from 'vitest'
import { FrameGuard, GuardedSocket } from '../../src/receive/frame-guard.js'
import { socketTo } from './support.js'

/** A packet of so many bytes after its header, the length written as MQTT 3.1.1, section 2.2.3 says. */
function frame(length: number): Buffer {
  const head = [0x30]
  let left = length
  do {
    const digit = left % 128
    left = Math.floor(left / 128)
    head.push(left > 0 ? digit | 128 : digit)
  } while (left > 0)
  return Buffer.concat([Buffer.from(head), Buffer.alloc(length, 0xff)])
}

describe('the frame guard', () => {
  // MQTT 3.1.1, table 2.4: the least and the largest value of each number of bytes.
  test.each([
    ['00', 0],
    ['7f', 127],
    ['8001', 128],
    ['ff7f', 16_383],
    ['808001', 16_384],
    ['ffff7f', 2_097_151],
    ['80808001', 2_097_152],
    ['ffffff7f', 268_435_455],
  ])('reads the length %s as %i', (hex, length) => {
    const header = Buffer.from(`30${hex}`, 'hex')
    expect(new FrameGuard(length).take(header)).toBe(true)
    if (length > 0) expect(new FrameGuard(length - 1).take(header)).toBe(false)
  })

  test('refuses a fifth byte of length', () => {
    expect(new FrameGuard(2 ** 40).take(Buffer.from('308080808001', 'hex'))).toBe(false)
  })

  test('lets pass and refuses the same, however the bytes are cut', () => {
    const lengths = fc.array(fc.integer({ min: 0, max: 300 }), { minLength: 1, maxLength: 20 })
    return fc.assert(
      fc.property(lengths, fc.array(fc.integer({ min: 1, max: 70 }), { minLength: 1 }), (list, cuts) => {
        const limit = 250
        const bytes = Buffer.concat(list.map(frame))
        const guard = new FrameGuard(limit)
        let passed = true
        for (let at = 0, i = 0; at < bytes.length && passed; i++) {
          const size = cuts[i % cuts.length] ?? 1
          passed = guard.take(bytes.subarray(at, at + size))
          at += size
        }
        expect(passed).toBe(list.every((length) => length <= limit))
      }),
    )
  })

  test('a limit that was widened holds for the packets that follow', () => {
    const guard = new FrameGuard(10)
    expect(guard.take(frame(10))).toBe(true)
    guard.limit(100)
    expect(guard.take(frame(100))).toBe(true)
    expect(guard.take(frame(101))).toBe(false)
  })
})

describe('a guarded socket', () => {
  async function pair() {
    const server = createServer().listen(0, '127.0.0.1')
    await new Promise<void>((resolve) => server.once('listening', () => resolve()))
    const address = server.address()
    const accepted = new Promise<Socket>((resolve) => server.once('connection', resolve))
    const far = await socketTo(typeof address === 'object' && address !== null ? address.port : 0)
    const near = await accepted
    onTestFinished(() => {
      near.destroy()
      server.close()
    })
    return { near, far, guarded: new GuardedSocket(near) }
  }

  test('still gives what was sent last when the other end has gone already', async () => {
    const { near, far, guarded } = await pair()
    const sent = Buffer.concat(Array.from({ length: 100 }, () => frame(100)))
    const gone = new Promise((resolve) => near.once('close', resolve))
    far.end(sent)
    await gone
    const read: Buffer[] = []
    for await (const chunk of guarded) read.push(chunk)
    expect(Buffer.concat(read).equals(sent)).toBe(true)
    expect(guarded.destroyed).toBe(true)
  })

  test('is destroyed when the link breaks, and the socket when it is destroyed', async () => {
    const first = await pair()
    const broken = new Promise((resolve) => first.guarded.once('close', resolve))
    first.far.resetAndDestroy()
    first.guarded.on('error', () => {})
    await broken
    const second = await pair()
    const closed = new Promise((resolve) => second.far.once('close', resolve))
    second.far.resume()
    second.guarded.destroy()
    await closed
    expect(second.near.destroyed).toBe(true)
  })

  test('passes writes on in order, single and gathered', async () => {
    const { far, guarded } = await pair()
    const read: Buffer[] = []
    far.on('data', (chunk) => read.push(chunk))
    guarded.cork()
    guarded.write('a')
    guarded.write('b')
    guarded.uncork()
    guarded.end('c')
    await new Promise((resolve) => far.once('end', resolve))
    expect(Buffer.concat(read).toString()).toBe('abc')
  })
})
