import { crc32, deflateRawSync, inflateRawSync } from 'node:zlib'
import { DAY } from '../model/time.js'
import { ByteReader, ByteWriter } from './bytes.js'
import type { Columns } from './open-day.js'

/**
 * A sealed day of one series, lossless: times as changes of the interval (a steady rhythm is all zeros), values by
 * the first of three forms that fits, then RFC 1951 deflate behind a version byte and a CRC-32 of the content.
 *   scaled  value · 10^k is whole for every value: differences of whole numbers
 *   table   few distinct values (a converter's steps after a change of unit): differences of places in a sorted table
 *   plain   IEEE 754 doubles, bytes of equal weight side by side
 */
const FORMAT = 1
const HEAD_BYTES = 5
const PLAIN = 255
const TABLE = 254
const SCALE_MAX = 6
/** Whole numbers stay below 2^30, so that any difference of two fits in 32 signed bits. */
const WHOLE_MAX = 2 ** 30 - 1
const CONTENT_BYTES_MAX = 1 << 30

function scaleOf(column: Columns): number {
  let scale = 0
  let power = 1
  for (let i = 0; i < column.n; i++) {
    const value = column.v[i] ?? Number.NaN
    if (Number.isNaN(value)) continue
    if (Object.is(value, -0)) return PLAIN
    while (Math.round(value * power) / power !== value) {
      if (++scale > SCALE_MAX) return PLAIN
      power *= 10
    }
  }
  for (let i = 0; i < column.n; i++) {
    const value = column.v[i] ?? Number.NaN
    if (Number.isNaN(value)) continue
    const whole = Math.round(value * power)
    if (Math.abs(whole) > WHOLE_MAX || whole / power !== value) return PLAIN
  }
  return scale
}

function writeScaled(out: ByteWriter, column: Columns, scale: number): void {
  const power = 10 ** scale
  const failed: number[] = []
  for (let i = 0; i < column.n; i++) if (Number.isNaN(column.v[i] ?? Number.NaN)) failed.push(i)
  out.unsigned(failed.length)
  let before = 0
  for (const place of failed) {
    out.unsigned(place - before)
    before = place
  }
  let last = 0
  for (let i = 0; i < column.n; i++) {
    const value = column.v[i] ?? Number.NaN
    if (Number.isNaN(value)) continue
    const whole = Math.round(value * power)
    out.signed(whole - last)
    last = whole
  }
}

function readScaled(input: ByteReader, v: Float64Array, scale: number): void {
  const power = 10 ** scale
  const failed = input.unsigned()
  let place = 0
  for (let i = 0; i < failed; i++) {
    place += input.unsigned()
    v[place] = Number.NaN
  }
  let last = 0
  for (let i = 0; i < v.length; i++) {
    if (Number.isNaN(v[i])) continue
    last += input.signed()
    v[i] = last / power
  }
}

/** Distinct values in ascending order (NaN last), or null where a table would not pay or cannot tell 0 from -0. */
function tableOf(column: Columns): Float64Array | null {
  const distinct = new Set<number>()
  for (let i = 0; i < column.n; i++) {
    const value = column.v[i] ?? Number.NaN
    if (Object.is(value, -0)) return null
    distinct.add(value)
    if (distinct.size * 4 > column.n) return null
  }
  return Float64Array.from(distinct).sort()
}

function writeTable(out: ByteWriter, column: Columns, table: Float64Array): void {
  const places = new Map<number, number>()
  table.forEach((value, place) => {
    places.set(value, place)
  })
  out.unsigned(table.length)
  out.raw(new Uint8Array(table.buffer, table.byteOffset, table.byteLength))
  let last = 0
  for (let i = 0; i < column.n; i++) {
    const place = places.get(column.v[i] ?? Number.NaN) ?? 0
    out.signed(place - last)
    last = place
  }
}

function readTable(input: ByteReader, v: Float64Array): void {
  const length = input.unsigned()
  const table = new Float64Array(new Uint8Array(input.raw(length * 8)).buffer)
  let place = 0
  for (let i = 0; i < v.length; i++) {
    place += input.signed()
    v[i] = table[place] ?? Number.NaN
  }
}

function writePlain(out: ByteWriter, column: Columns): void {
  const bytes = new Uint8Array(column.v.buffer, column.v.byteOffset, column.n * 8)
  for (let weight = 0; weight < 8; weight++) {
    for (let i = 0; i < column.n; i++) out.byte(bytes[i * 8 + weight] ?? 0)
  }
}

function readPlain(input: ByteReader, v: Float64Array): void {
  const bytes = new Uint8Array(v.buffer)
  for (let weight = 0; weight < 8; weight++) {
    const row = input.raw(v.length)
    for (let i = 0; i < v.length; i++) bytes[i * 8 + weight] = row[i] ?? 0
  }
}

/** Writes the samples of UTC day number `day` (whole days since 1970) as they stand in a block before compression. */
export function writeColumn(out: ByteWriter, day: number, column: Columns): void {
  out.unsigned(column.n)
  let last = day * DAY
  let interval = 0
  for (let i = 0; i < column.n; i++) {
    const t = column.t[i] ?? 0
    out.signed(t - last - interval)
    interval = t - last
    last = t
  }
  const scale = scaleOf(column)
  const table = scale === PLAIN ? tableOf(column) : null
  out.byte(table === null ? scale : TABLE)
  if (scale !== PLAIN) writeScaled(out, column, scale)
  else if (table !== null) writeTable(out, column, table)
  else writePlain(out, column)
}

/** Packs the samples of one series and UTC day. */
export function packBlock(day: number, column: Columns): Buffer {
  const out = new ByteWriter()
  writeColumn(out, day, column)
  const content = out.done()
  const head = Buffer.alloc(HEAD_BYTES)
  head.writeUInt8(FORMAT, 0)
  head.writeUInt32LE(crc32(content), 1)
  return Buffer.concat([head, deflateRawSync(content)])
}

/** Unpacks a block; throws a RangeError naming what is wrong when its content is not what was sealed. */
export function unpackBlock(day: number, data: Buffer): Columns {
  if (data.length < HEAD_BYTES || data.readUInt8(0) !== FORMAT) throw new RangeError('block is of an unknown form')
  const content = inflateRawSync(data.subarray(HEAD_BYTES), { maxOutputLength: CONTENT_BYTES_MAX })
  if (crc32(content) !== data.readUInt32LE(1)) throw new RangeError('checksum of the block does not match')
  return readColumn(new ByteReader(content), day, content.length)
}

/** Reads what `writeColumn` wrote; throws a RangeError where it holds more than `samplesMax` samples. */
export function readColumn(input: ByteReader, day: number, samplesMax: number): Columns {
  const n = input.unsigned()
  if (n > samplesMax) throw new RangeError('block names more samples than it can hold')
  const t = new Float64Array(n)
  const v = new Float64Array(n)
  let last = day * DAY
  let interval = 0
  for (let i = 0; i < n; i++) {
    interval += input.signed()
    last += interval
    t[i] = last
  }
  const kind = input.byte()
  if (kind === PLAIN) readPlain(input, v)
  else if (kind === TABLE) readTable(input, v)
  else readScaled(input, v, kind)
  return { n, t, v }
}
