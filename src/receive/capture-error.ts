/** A capture that cannot be read or written: says which file and, where there is one, which line. */
export class CaptureError extends Error {
  readonly file: string
  /** Counted from 1; null where the trouble is with the whole file. */
  readonly line: number | null
  readonly found: string
  readonly expected: string

  constructor(place: { file: string; line: number | null; found: string; expected: string; cause?: unknown }) {
    const where = place.line === null ? place.file : `${place.file}:${place.line}`
    super(`${where}: found ${place.found}; expected ${place.expected}`, { cause: place.cause })
    this.name = 'CaptureError'
    this.file = place.file
    this.line = place.line
    this.found = place.found
    this.expected = place.expected
  }
}
