import { isUtf8 } from 'node:buffer'
import { closeSync, openSync, readFileSync, readSync } from 'node:fs'
import { gunzipSync } from 'node:zlib'
import { LIMITS } from '../model/limits.js'
import type { Arrival } from '../model/sample.js'
import { CaptureError } from './capture-error.js'
import { parseCaptureLine } from './capture-line.js'
import { QuickLines, type Topics } from './capture-quick.js'

const LINE_FEED = 10

/**
 * Reads a capture (contract, section 4) in the order of its lines, plain or compressed with gzip (told by its first
 * bytes, not its name). Plain files are read a piece at a time; compressed ones are unpacked whole in memory, up to
 * `LIMITS.captureUnpackedBytesMax`. Empty lines are passed over.
 * Throws CaptureError, naming file and line, at the first thing that is no message.
 */
export function* readCapture(file: string): Generator<Arrival, void, undefined> {
  let lineNumber = 0
  let rest: Buffer = Buffer.alloc(0)
  const topics: Topics = []
  for (const piece of pieces(file)) {
    const end = piece.lastIndexOf(LINE_FEED) + 1
    const whole = rest.length === 0 ? piece.subarray(0, end) : Buffer.concat([rest, piece.subarray(0, end)])
    if (end > 0) {
      lineNumber = yield* linesOf(file, whole, lineNumber, topics)
      rest = Buffer.from(piece.subarray(end))
    } else rest = Buffer.concat([rest, piece])
    if (rest.length > LIMITS.captureLineBytesMax)
      throw new CaptureError({
        file,
        line: lineNumber + 1,
        found: `a line of more than ${LIMITS.captureLineBytesMax} bytes`,
        expected: 'a shorter line',
      })
  }
  yield* linesOf(file, rest, lineNumber, topics)
}

/** Yields the messages of a buffer of whole lines; returns the number of its last line. */
function* linesOf(
  file: string,
  bytes: Buffer,
  linesBefore: number,
  topics: Topics,
): Generator<Arrival, number, undefined> {
  let line = linesBefore
  const quick = isUtf8(bytes) ? new QuickLines(bytes, topics) : null
  for (let from = 0; from < bytes.length; ) {
    const feed = bytes.indexOf(LINE_FEED, from)
    const to = feed < 0 ? bytes.length : feed
    line++
    const arrival = quick?.read(from, to) ?? slowLine(file, bytes.subarray(from, to), line)
    from = to + 1
    if (arrival !== null) yield arrival
  }
  return line
}

/** A line in whatever form it has; null for an empty one. */
function slowLine(file: string, bytes: Buffer, line: number): Arrival | null {
  if (!isUtf8(bytes))
    throw new CaptureError({
      file,
      line,
      found: 'bytes that are not UTF-8',
      expected: 'UTF-8 (other payloads go into payload64)',
    })
  const text = bytes.toString('utf8')
  // A byte order mark is no part of JSON (RFC 8259, section 8.1), but editors leave it.
  const one = line === 1 && text.startsWith('\ufeff') ? text.slice(1) : text
  if (one === '' || one === '\r') return null
  const arrival = parseCaptureLine(one)
  if (!('at' in arrival)) throw new CaptureError({ file, line, found: arrival.found, expected: arrival.expected })
  return arrival
}

function* pieces(file: string): Generator<Buffer, void, undefined> {
  const fd = attempt(file, 'a file that can be read', () => openSync(file, 'r'))
  try {
    const buffer = Buffer.allocUnsafe(LIMITS.capturePieceBytes)
    let first = true
    for (;;) {
      const length = attempt(file, 'a file that can be read', () => readSync(fd, buffer, 0, buffer.length, null))
      if (length === 0) return
      // RFC 1952, section 2.3.1: ID1 = 31, ID2 = 139.
      if (first && buffer[0] === 31 && buffer[1] === 139 && length > 1) {
        yield* unpacked(file)
        return
      }
      first = false
      yield buffer.subarray(0, length)
    }
  } finally {
    closeSync(fd)
  }
}

function* unpacked(file: string): Generator<Buffer, void, undefined> {
  const expected = `whole gzip data of at most ${LIMITS.captureUnpackedBytesMax} bytes when unpacked`
  const all = attempt(file, expected, () =>
    gunzipSync(readFileSync(file), { maxOutputLength: LIMITS.captureUnpackedBytesMax }),
  )
  for (let from = 0; from < all.length; from += LIMITS.capturePieceBytes)
    yield all.subarray(from, from + LIMITS.capturePieceBytes)
}

function attempt<T>(file: string, expected: string, act: () => T): T {
  try {
    return act()
  } catch (cause) {
    const found = cause instanceof Error ? cause.message : String(cause)
    throw new CaptureError({ file, line: null, found, expected, cause })
  }
}
