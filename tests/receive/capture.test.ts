import { appendFileSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import * as fc from 'fast-check'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import type { Arrival } from '../../src/model/sample.js'
import { CaptureError, openCapture, readCapture } from '../../src/receive/capture.js'

let folder: string
let file: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'capture-'))
  file = join(folder, 'received.ndjson')
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

const text = (words: string): Uint8Array => Buffer.from(words, 'utf8')

function message(at: number, payload: Uint8Array, topic = 'water/juniper/tank-board', retain = false): Arrival {
  return { at, topic, payload, retain }
}

function write(arrivals: readonly Arrival[]): void {
  const capture = openCapture(file)
  for (const arrival of arrivals) capture.append(arrival)
  capture.close()
}

/** Buffers and Uint8Arrays with the same bytes are the same payload. */
function plain(arrivals: Iterable<Arrival>): unknown[] {
  return [...arrivals].map((a) => ({ ...a, payload: Buffer.from(a.payload).toString('hex') }))
}

function problem(): CaptureError {
  try {
    for (const _ of readCapture(file));
  } catch (error) {
    if (error instanceof CaptureError) return error
    throw error
  }
  throw new Error('the capture was read without complaint')
}

const LINE = '{"at":1764000000.123,"topic":"water/juniper/tank-board","payload":"1"}'

describe('the form of a line', () => {
  test('is the one that the contract shows: seconds, topic, text', () => {
    write([message(1_764_000_000_123, text('[{"n":"level","v":1.2}]'))])
    expect(readFileSync(file, 'utf8')).toBe(
      '{"at":1764000000.123,"topic":"water/juniper/tank-board","payload":"[{\\"n\\":\\"level\\",\\"v\\":1.2}]"}\n',
    )
  })

  test('carries a payload that is not UTF-8 as base64', () => {
    write([message(1_764_000_000_000, Uint8Array.of(0xff, 0x00, 0xc3))])
    expect(JSON.parse(readFileSync(file, 'utf8'))).toEqual({
      at: 1_764_000_000,
      topic: 'water/juniper/tank-board',
      payload64: '/wDD',
    })
  })

  // The encodings of RFC 4648, section 10, with their padding.
  test.each([
    ['', ''],
    ['Zg==', 'f'],
    ['Zm8=', 'fo'],
    ['Zm9v', 'foo'],
    ['Zm9vYmFy', 'foobar'],
  ])('reads payload64 %j as RFC 4648 says', (encoded, decoded) => {
    writeFileSync(file, `{"at":1,"topic":"a","payload64":"${encoded}"}\n`)
    expect(plain(readCapture(file))).toEqual(plain([message(1000, text(decoded), 'a')]))
  })
})

describe('what is written', () => {
  test('comes back the same, whatever the bytes, topics and times', () => {
    const arrivals = fc.record({
      at: fc.integer({ min: 0, max: 4_000_000_000_000 }),
      topic: fc.string({ minLength: 1, unit: 'binary' }),
      payload: fc.oneof(
        fc.uint8Array({ maxLength: 60 }),
        fc.string({ unit: 'binary', maxLength: 40 }).map((words) => new Uint8Array(text(words))),
      ),
      retain: fc.boolean(),
    })
    return fc.assert(
      fc.property(fc.array(arrivals, { maxLength: 20 }), (list) => {
        rmSync(file, { force: true })
        write(list)
        expect(plain(readCapture(file))).toEqual(plain(list))
      }),
      { numRuns: 150 },
    )
  })

  test('comes back the same from gzip, told by its bytes and not by its name', () => {
    const list = [message(5, text('a')), message(6, text('é\u2028\n'), 'x', true)]
    write(list)
    for (const name of ['received.ndjson.gz', 'no-such-ending']) {
      writeFileSync(join(folder, name), gzipSync(readFileSync(file)))
      expect(plain(readCapture(join(folder, name)))).toEqual(plain(list))
    }
  })

  test('is added to what the file holds already', () => {
    write([message(1, text('a'))])
    write([message(2, text('b'))])
    expect([...readCapture(file)].map((a) => a.at)).toEqual([1, 2])
  })

  test('is on disk after a flush, before the file is closed', () => {
    const capture = openCapture(file)
    capture.append(message(1, text('a')))
    expect(readFileSync(file, 'utf8')).toBe('')
    capture.flush()
    expect([...readCapture(file)]).toHaveLength(1)
    expect(capture.stats()).toEqual({ written: 1, lost: 0 })
    capture.close()
  })

  test('is written by itself when much has gathered, so that memory stays bounded', () => {
    const capture = openCapture(file)
    const payload = text('x'.repeat(1000))
    for (let i = 0; i < 200; i++) capture.append(message(i, payload))
    expect(readFileSync(file, 'utf8').length).toBeGreaterThan(200_000 - LIMITS.captureBufferChars)
    capture.close()
  })

  test('is counted as lost, and said, when the disk takes no more', () => {
    // Linux: every write to this device fails with ENOSPC (full(4)).
    const said: string[] = []
    const capture = openCapture('/dev/full', { onError: (error, lost) => said.push(`${lost} ${error.message}`) })
    capture.append(message(1, text('a')))
    capture.append(message(2, text('b')))
    capture.flush()
    expect(said).toHaveLength(1)
    expect(said[0]).toMatch(/^2 .*ENOSPC/)
    expect(capture.stats()).toEqual({ written: 0, lost: 2 })
    capture.close()
  })
})

describe('opening', () => {
  test('cuts off a line that a power cut tore, and goes on after the last whole one', () => {
    writeFileSync(file, `${LINE}\n${LINE.slice(0, 40)}`)
    write([message(9000, text('next'))])
    expect([...readCapture(file)].map((a) => a.at)).toEqual([1_764_000_000_123, 9000])
  })

  test('keeps a last line that only lacks its line feed', () => {
    writeFileSync(file, LINE)
    write([message(9000, text('next'))])
    expect([...readCapture(file)].map((a) => a.at)).toEqual([1_764_000_000_123, 9000])
  })

  test('leaves a file alone that is no capture', () => {
    writeFileSync(file, 'site: { id: juniper }')
    expect(() => openCapture(file)).toThrow(CaptureError)
    expect(readFileSync(file, 'utf8')).toBe('site: { id: juniper }')
  })

  test('refuses a compressed name and a folder that is not there', () => {
    expect(() => openCapture(join(folder, 'x.gz'))).toThrow(/\.gz/)
    expect(() => openCapture(join(folder, 'missing', 'x.ndjson'))).toThrow(/ENOENT/)
  })
})

describe('reading', () => {
  test('finds lines that cross from one piece to the next', () => {
    const list = Array.from({ length: 40 }, (_, i) => message(i, text('€'.repeat(30_000 + i))))
    write(list)
    expect(readFileSync(file).length).toBeGreaterThan(3 * LIMITS.capturePieceBytes)
    expect(plain(readCapture(file))).toEqual(plain(list))
  })

  test('passes over empty lines, carriage returns and a byte order mark, and needs no last line feed', () => {
    writeFileSync(file, `\ufeff${LINE}\r\n\r\n\n${LINE}`)
    expect([...readCapture(file)]).toHaveLength(2)
  })

  test.each([
    ['{"at":1,"topic":"a"', 'one whole JSON object'],
    ['[1]', 'a JSON object'],
    ['null', 'a JSON object'],
    ['{"topic":"a","payload":"1"}', 'epoch seconds'],
    ['{"at":"1","topic":"a","payload":"1"}', 'epoch seconds'],
    ['{"at":-1,"topic":"a","payload":"1"}', 'epoch seconds'],
    ['{"at":1764000000123,"topic":"a","payload":"1"}', 'looks like milliseconds'],
    ['{"at":1,"topic":"","payload":"1"}', 'an MQTT topic'],
    ['{"at":1,"topic":"a"}', 'either payload'],
    ['{"at":1,"topic":"a","payload":"1","payload64":"MQ=="}', 'either payload'],
    ['{"at":1,"topic":"a","payload":1}', 'a string'],
    ['{"at":1,"topic":"a","payload64":"M"}', 'base64'],
    ['{"at":1,"topic":"a","payload":"1","retain":1}', 'true or false'],
  ])('names file and line of %s', (bad, expected) => {
    writeFileSync(file, `${LINE}\n${LINE}\n${bad}\n${LINE}\n`)
    const error = problem()
    expect(error.line).toBe(3)
    expect(error.message.startsWith(`${file}:3: found `)).toBe(true)
    expect(error.expected).toContain(expected)
  })

  test('gives the messages before a bad line first', () => {
    writeFileSync(file, `${LINE}\nnonsense\n`)
    const seen: Arrival[] = []
    expect(() => {
      for (const arrival of readCapture(file)) seen.push(arrival)
    }).toThrow(/:2: /)
    expect(seen).toHaveLength(1)
  })

  test('names the line whose bytes are not UTF-8, beside one that rightly holds U+FFFD', () => {
    writeFileSync(file, `${LINE.replace('"1"', '"\ufffd"')}\n`)
    expect([...readCapture(file)]).toHaveLength(1)
    appendFileSync(file, Buffer.concat([text(LINE.slice(0, -3)), Uint8Array.of(0xff), text('"}\n')]))
    expect(problem().line).toBe(2)
  })

  test('stops at a line without end instead of filling memory', () => {
    writeFileSync(file, `${LINE}\n${'x'.repeat(3 * LIMITS.captureLineBytesMax)}`)
    expect(problem()).toMatchObject({ line: 2 })
  })

  test('says that a compressed capture is cut short, and that a file is missing', () => {
    writeFileSync(file, gzipSync(Buffer.from(`${LINE}\n`.repeat(100))).subarray(0, 60))
    expect(problem()).toMatchObject({ line: null })
    rmSync(file)
    expect(problem().message).toMatch(/ENOENT/)
  })

  test.skipIf(process.platform !== 'linux')('closes the file when the reader stops early', () => {
    writeFileSync(file, `${LINE}\n`.repeat(10))
    const open = (): number => readdirSync('/proc/self/fd').length
    const before = open()
    for (let i = 0; i < 100; i++) for (const _ of readCapture(file)) break
    expect(open()).toBeLessThan(before + 10)
  })
})
