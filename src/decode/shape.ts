/**
 * The form of a pack apart from its numbers. Firmware prints the same text again and again with other numbers in it, so
 * a board's next message is usually known but for those: then its bytes are compared and its numbers read, which is
 * several times as fast as parsing and resolving it anew. A shape says the same as the ordinary way or says nothing.
 */
import type { Resolved } from './senml.js'
import { newBase, newResolved, resolveRecord } from './senml.js'
import type { NameTable } from './names.js'
import { type Target, unitOf } from './target.js'

/** Packs of more records are decoded the ordinary way: a shape is for what small boards send. */
const RECORDS_MAX = 32
const NONE = -1

/** Where a record's numbers stand among those of the pack; −1: nowhere, which counts as zero. */
type Places = { readonly v: number; readonly t: number; readonly bv: number; readonly bt: number }

export type ShapeRecord = Places & {
  readonly target: Target
  readonly unit: Target['configured']
}

export type Shape = {
  /** What stands before each number, and after the last: one more than there are numbers. */
  readonly literals: readonly Uint8Array[]
  readonly records: readonly ShapeRecord[]
}

/** Labels whose numbers differ from message to message; any other number belongs to the form. */
type Slot = 'v' | 't' | 'bv' | 'bt'
const SLOTS: ReadonlySet<string> = new Set<Slot>(['v', 't', 'bv', 'bt'])

function isSlot(label: string): label is Slot {
  return SLOTS.has(label)
}

const QUOTE = 0x22
const BACKSLASH = 0x5c
const OPEN = 0x7b
const CLOSE = 0x7d
const MINUS = 0x2d
const POINT = 0x2e

/**
 * The shape of a pack that has been decoded without a refusal; null where it has a form that shapes do not cover
 * (values that are no numbers, sums, escapes in strings, nesting).
 *
 * @param pack the payload as parsed
 */
export function shapeOf(payload: Uint8Array, pack: readonly unknown[], names: NameTable): Shape | null {
  if (pack.length > RECORDS_MAX) return null
  const scanned = scan(payload)
  if (scanned === null || scanned.records.length !== pack.length) return null
  const records: ShapeRecord[] = []
  const base = newBase()
  for (const [index, record] of pack.entries()) {
    const resolved: Resolved = newResolved()
    const outcome = resolveRecord(base, record, resolved)
    if (outcome === 'base-only') continue
    const places = scanned.records[index]
    const target = names.find(resolved.name)
    if (outcome !== 'value' || places === undefined || typeof target === 'string') return null
    if (places.v === NONE || target.spec.kind === 'contact' || resolved.sum !== null) return null
    const unit = unitOf(target, resolved.unit)
    if (unit === null) return null
    records.push({ ...places, target, unit })
  }
  return { literals: scanned.literals, records }
}

type Scanned = { readonly literals: readonly Uint8Array[]; readonly records: readonly Places[] }

/** Walks over JSON that is known to be good, and notes where the numbers of the slots stand. */
function scan(payload: Uint8Array): Scanned | null {
  const literals: Uint8Array[] = []
  const records: Places[] = []
  let own = new Map<Slot, number>()
  let bases: Pick<Places, 'bv' | 'bt'> = { bv: NONE, bt: NONE }
  let label = ''
  let from = 0
  let depth = 0
  for (let at = 0; at < payload.length; at++) {
    const byte = payload[at] ?? 0
    if (byte === QUOTE) {
      const end = stringEnd(payload, at)
      if (end === null) return null
      label = text(payload, at + 1, end)
      at = end
    } else if (byte === OPEN) {
      if (++depth > 1) return null
      own = new Map()
    } else if (byte === CLOSE) {
      depth--
      bases = { bv: own.get('bv') ?? bases.bv, bt: own.get('bt') ?? bases.bt }
      records.push({ v: own.get('v') ?? NONE, t: own.get('t') ?? NONE, ...bases })
    } else if (isNumberStart(byte)) {
      const end = numberEnd(payload, at)
      if (isSlot(label)) {
        // A label that is there twice: the later one counts, which is not worth following.
        if (own.has(label)) return null
        own.set(label, literals.length)
        literals.push(payload.slice(from, at))
        from = end
      }
      at = end - 1
    }
  }
  literals.push(payload.slice(from))
  return { literals, records }
}

/** Index of the closing quote; null where the string has an escape. */
function stringEnd(payload: Uint8Array, open: number): number | null {
  for (let at = open + 1; at < payload.length; at++) {
    if (payload[at] === BACKSLASH) return null
    if (payload[at] === QUOTE) return at
  }
  return null
}

/** A label; those that matter are of ASCII letters. */
function text(payload: Uint8Array, from: number, to: number): string {
  return to - from > 4 ? '' : String.fromCharCode(...payload.subarray(from, to))
}

function isNumberStart(byte: number): boolean {
  return byte === MINUS || isDigit(byte)
}

function isDigit(byte: number): boolean {
  return byte >= 0x30 && byte <= 0x39
}

function numberEnd(payload: Uint8Array, from: number): number {
  let at = from
  for (; at < payload.length; at++) {
    const byte = payload[at] ?? 0
    const inNumber = isDigit(byte) || byte === MINUS || byte === 0x2b || byte === POINT || (byte | 0x20) === 0x65
    if (!inNumber) break
  }
  return at
}

/** Powers of ten that a double holds exactly. */
const TENS = Array.from({ length: 16 }, (_, power) => 10 ** power)
/** Whole numbers of so many digits are exact in a double. */
const DIGITS_MAX = 15
/** No sensor's number; the ordinary way may have it. */
const DIGITS_READ_MAX = 40

/**
 * Reads a payload by a shape.
 *
 * @param numbers filled with the pack's numbers; at least as long as there are any
 * @returns false where the payload has another form, or a number that needs the ordinary way
 */
export function readByShape({ literals }: Shape, payload: Uint8Array, numbers: Float64Array): boolean {
  const last = literals.length - 1
  const { length } = payload
  let at = 0
  for (let k = 0; k <= last; k++) {
    const literal = literals[k]
    if (literal === undefined || at + literal.length > length) return false
    for (let i = 0; i < literal.length; i++) if (payload[at + i] !== literal[i]) return false
    at += literal.length
    if (k === last) break
    const end = readNumber(payload, at, k, numbers)
    if (end === NONE) return false
    at = end
  }
  return at === length
}

/**
 * Reads one JSON number (RFC 8259, section 6) without an exponent. With so few digits that they and the power of ten
 * are exact in a double, one division rounds as a correct reader must; longer ones go the language's own way. Returns
 * where it ends, or −1.
 */
function readNumber(payload: Uint8Array, from: number, place: number, numbers: Float64Array): number {
  let at = from
  const negative = payload[at] === MINUS
  if (negative) at++
  const first = at
  let whole = 0
  let point = NONE
  for (; at < payload.length; at++) {
    const byte = payload[at] ?? 0
    if (byte === POINT && point === NONE) point = at
    else if (byte >= 0x30 && byte <= 0x39) whole = whole * 10 + (byte - 0x30)
    else if ((byte | 0x20) === 0x65 || byte === POINT) return NONE
    else break
  }
  const digits = at - first - (point === NONE ? 0 : 1)
  const beforePoint = (point === NONE ? at : point) - first
  const afterPoint = digits - beforePoint
  if (beforePoint === 0 || (point !== NONE && afterPoint === 0) || digits > DIGITS_READ_MAX) return NONE
  // JSON has no leading zeros.
  if (beforePoint > 1 && payload[first] === 0x30) return NONE
  let value = afterPoint === 0 ? whole : whole / (TENS[afterPoint] ?? Number.NaN)
  if (digits > DIGITS_MAX) value = Number(String.fromCharCode(...payload.subarray(first, at)))
  numbers[place] = negative ? -value : value
  return at
}
