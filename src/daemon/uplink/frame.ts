/**
 * One uplink message: a piece of one site's readings, packed in columns, lossless.
 *
 *   "SgU" version CRC-32(content) deflate(content)
 *   content: site, when it was made, how often they are made, then columns: key, UTC day, times, values
 *
 * Readings, not messages: what the boards said has been decoded and believed at the place, so that a poor link carries
 * a byte or two for each.
 */
import { crc32, deflateRawSync, inflateRawSync } from 'node:zlib'
import { LIMITS } from '../../model/limits.js'
import { DAY, type Ms } from '../../model/time.js'
import { readColumn, writeColumn } from '../../record/block-codec.js'
import { ByteReader, ByteWriter } from '../../record/bytes.js'

export type FrameColumn = {
  readonly key: string
  /** Whole UTC days since 1970; all times lie within it. */
  readonly day: number
  /** Ascending. */
  readonly t: Float64Array
  readonly v: Float64Array
}

export type Frame = {
  readonly site: string
  /** The clock of the place when it was made. */
  readonly at: Ms
  readonly everyS: number
  readonly columns: readonly FrameColumn[]
}

/** What came is no frame; says what is wrong with it. */
export class FrameError extends Error {}

const MAGIC = Buffer.from('SgU')
const VERSION = 1
const HEAD_BYTES = 8

export function packFrame({ site, at, everyS, columns }: Frame): Buffer {
  const out = new ByteWriter()
  text(out, site)
  out.unsigned(Math.floor(at / DAY))
  out.unsigned(at % DAY)
  out.unsigned(everyS)
  out.unsigned(columns.length)
  for (const { key, day, t, v } of columns) {
    text(out, key)
    out.unsigned(day)
    writeColumn(out, day, { n: t.length, t, v })
  }
  const content = out.done()
  const head = Buffer.alloc(HEAD_BYTES)
  MAGIC.copy(head)
  head.writeUInt8(VERSION, 3)
  head.writeUInt32LE(crc32(content), 4)
  return Buffer.concat([head, deflateRawSync(content, { level: 9 })])
}

/** Throws FrameError. Never takes more memory than the limits allow. */
export function unpackFrame(data: Uint8Array): Frame {
  const bytes = Buffer.from(data.buffer, data.byteOffset, data.length)
  if (bytes.length < HEAD_BYTES || !bytes.subarray(0, 3).equals(MAGIC)) throw new FrameError('no uplink frame')
  if (bytes.readUInt8(3) !== VERSION) {
    throw new FrameError(`found form ${bytes.readUInt8(3)}, expected ${VERSION}: bring both ends to one version`)
  }
  try {
    const content = inflateRawSync(bytes.subarray(HEAD_BYTES), { maxOutputLength: LIMITS.frameContentBytesMax })
    if (crc32(content) !== bytes.readUInt32LE(4)) throw new FrameError('its checksum does not match')
    return readContent(new ByteReader(content))
  } catch (error) {
    if (error instanceof FrameError) throw error
    throw new FrameError(error instanceof Error ? error.message : String(error))
  }
}

function readContent(input: ByteReader): Frame {
  const site = word(input)
  const at = input.unsigned() * DAY + input.unsigned()
  const everyS = input.unsigned()
  const count = input.unsigned()
  if (count > LIMITS.frameColumnsMax)
    throw new FrameError(`found ${count} columns, expected ${LIMITS.frameColumnsMax} at most`)
  const columns: FrameColumn[] = []
  for (let i = 0; i < count; i++) {
    const key = word(input)
    const day = input.unsigned()
    const { t, v } = readColumn(input, day, LIMITS.frameSamplesMax)
    columns.push({ key, day, t, v })
  }
  return { site, at, everyS, columns }
}

function text(out: ByteWriter, value: string): void {
  const bytes = Buffer.from(value, 'utf8')
  out.unsigned(bytes.length)
  out.raw(bytes)
}

function word(input: ByteReader): string {
  const length = input.unsigned()
  if (length > 200) throw new FrameError('a name is too long')
  return Buffer.from(input.raw(length)).toString('utf8')
}
