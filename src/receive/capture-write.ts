import { closeSync, fstatSync, ftruncateSync, openSync, readSync, writeSync } from 'node:fs'
import { LIMITS } from '../model/limits.js'
import type { Arrival } from '../model/sample.js'
import { CaptureError } from './capture-error.js'
import { captureLine, parseCaptureLine } from './capture-line.js'

export type Capture = {
  /** Adds a message; written within a second, or at once when much has gathered. Never throws. */
  append(arrival: Arrival): void
  /** Writes what is waiting now. */
  flush(): void
  stats(): { readonly written: number; readonly lost: number }
  close(): void
}

export type CaptureOptions = {
  /** Told when messages could not be written (disk full, card gone). The capture goes on trying. */
  readonly onError?: (error: Error, lost: number) => void
}

/**
 * Opens a file to which received messages are appended, one a line (contract, section 4). A last line that a power
 * cut left unfinished is cut off first, so that what follows can be read.
 * Throws CaptureError when the file cannot be opened, is no capture, or is named like a compressed one.
 */
export function openCapture(file: string, options: CaptureOptions = {}): Capture {
  if (file.endsWith('.gz'))
    throw new CaptureError({
      file,
      line: null,
      found: 'a name that ends in .gz',
      expected: 'a plain file (compress it when it is complete)',
    })
  const fd = openToAppend(file)
  let waiting = ''
  let lines = 0
  let written = 0
  let lost = 0
  let open = true

  const flush = (): void => {
    if (lines === 0) return
    const [text, count] = [waiting, lines]
    waiting = ''
    lines = 0
    const bytes = Buffer.from(text, 'utf8')
    const before = fstatSync(fd).size
    try {
      for (let done = 0; done < bytes.length; ) done += writeSync(fd, bytes, done)
      written += count
    } catch (error) {
      lost += count
      // Half a line would make the rest of the file unreadable.
      try {
        ftruncateSync(fd, before)
      } catch {
        // The error already being reported says that the file is in trouble.
      }
      options.onError?.(error instanceof Error ? error : new Error(String(error)), count)
    }
  }
  const timer = setInterval(flush, LIMITS.captureFlushMs)
  timer.unref()

  return {
    append(arrival) {
      if (!open) return
      waiting += captureLine(arrival)
      lines++
      if (waiting.length >= LIMITS.captureBufferChars) flush()
    },
    flush,
    stats: () => ({ written, lost }),
    close() {
      if (!open) return
      open = false
      clearInterval(timer)
      flush()
      closeSync(fd)
    },
  }
}

function openToAppend(file: string): number {
  let fd: number
  try {
    fd = openSync(file, 'a+')
  } catch (cause) {
    throw new CaptureError({ file, line: null, found: words(cause), expected: 'a file that can be written', cause })
  }
  try {
    mendTail(file, fd)
    return fd
  } catch (error) {
    closeSync(fd)
    throw error
  }
}

/** Leaves the file ending in a line feed: completes a whole last line, cuts off a torn one. */
function mendTail(file: string, fd: number): void {
  const size = fstatSync(fd).size
  if (size === 0 || !fstatSync(fd).isFile()) return
  const length = Math.min(size, LIMITS.captureLineBytesMax)
  const tail = Buffer.alloc(length)
  readSync(fd, tail, 0, length, size - length)
  if (tail[length - 1] === 10) return
  const start = tail.lastIndexOf(10) + 1
  const last = tail.toString('utf8', start)
  if ((start === 0 && length < size) || !last.startsWith('{"at"'.slice(0, last.length)))
    throw new CaptureError({
      file,
      line: null,
      found: 'a file that ends in something else than a capture line',
      expected: 'a capture, or a new file',
    })
  if ('at' in parseCaptureLine(last)) writeSync(fd, '\n')
  else ftruncateSync(fd, size - length + start)
}

function words(error: unknown): string {
  return error instanceof Error ? error.message : String(error)
}
