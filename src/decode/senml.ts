/**
 * SenML (RFC 8428) packs, section 4: how a record is completed by the base fields before it.
 *
 * The records are checked by hand, not by a schema: this is the hot path, and a schema library costs several times
 * the whole of the rest of the decoder.
 */

/** The value of a record; `none` for a record that has a sum alone. */
export type SenmlValue = number | string | boolean | null

/**
 * One record, completed. A number that the sender could not write (NaN, infinity, null) is NaN.
 * The object is filled again for each record, so copy what you keep.
 */
export type Resolved = {
  name: string
  /** '' where neither the record nor a base unit gives one. */
  unit: string
  kind: 'number' | 'string' | 'boolean' | 'data' | 'none'
  value: SenmlValue
  sum: number | null
  /** Base time and time together, seconds: below 2^28 relative to receipt, else since 1970 (section 4.5.3). */
  timeS: number
  /** Seconds within which the sensor promises a next reading; null: no promise. */
  updateS: number | null
}

/** Sums below this are relative to now (section 4.5.3): 2^28 s. */
export const RELATIVE_BELOW_S = 268_435_456

/** Versions are understood up to this one (section 4.4). */
const VERSION = 10
/** Version 10 with feature 4, "secondary units" (RFC 9100; the feature's number is from memory). */
const VERSION_SECONDARY_UNITS = VERSION + 2 ** 4

/** The base fields in force. A field that could not be read spoils the records that rest on it, no others. */
export type Base = {
  name: string | null
  timeS: number | null
  unit: string | null
  value: number | null
  sum: number | null
  hasSum: boolean
  /** A label of a later standard that must be understood and holds from its record on. */
  unknown: string | null
}

export function newBase(): Base {
  return { name: '', timeS: 0, unit: '', value: 0, sum: 0, hasSum: false, unknown: null }
}

export function newResolved(): Resolved {
  return { name: '', unit: '', kind: 'none', value: null, sum: null, timeS: 0, updateS: null }
}

/** What became of a record: completed, only base fields (no value to give), or a sentence about its fault. */
export type Outcome = 'value' | 'base-only' | { readonly fault: string }

const fault = (sentence: string): Outcome => ({ fault: sentence })
const NOT_AN_OBJECT = fault('a record is an object')

/**
 * Whether a pack's version is one that we understand (sections 4.1 and 4.4): a positive whole number, 10 or less,
 * or 26 (secondary units), the same for every record. A wrong version means that nothing in the pack may be used.
 *
 * @returns null when all is well, else a sentence about the fault
 */
export function versionFault(pack: readonly unknown[]): string | null {
  let version = VERSION
  for (let index = 0; index < pack.length; index++) {
    const record = pack[index]
    if (typeof record !== 'object' || record === null) continue
    const given = (record as { readonly bver?: unknown }).bver
    if (given === undefined) continue
    if (typeof given !== 'number' || !Number.isInteger(given) || given < 1) return 'bver is a positive whole number'
    if (given > VERSION && given !== VERSION_SECONDARY_UNITS) return `bver ${given} is newer than ${VERSION}`
    if (index > 0 && given !== version) return 'all records of a pack have one bver'
    version = given
  }
  return null
}

/**
 * Completes one record with the base fields in force, which it may change for itself and the records after it.
 *
 * @param base in and out
 * @param record a member of the pack, straight from the JSON parser
 * @param out filled when the outcome is `value`
 */
export function resolveRecord(base: Base, record: unknown, out: Resolved): Outcome {
  if (typeof record !== 'object' || record === null || Array.isArray(record)) return NOT_AN_OBJECT
  const own = readFields(record as Readonly<Record<string, unknown>>, base, out)
  if (base.unknown !== null) return notKnown(base.unknown)
  if (own.unknown !== null) return notKnown(own.unknown)
  if (own.wrong !== null) return fault(`${own.wrong} is a ${TYPES[own.wrong]}`)
  if (own.values === 0 && own.sum === null) {
    return own.bases > 0 && own.name === '' ? 'base-only' : fault('a record has one of v, vs, vb, vd, or s')
  }
  if (own.values > 1) return fault('a record has only one of v, vs, vb and vd')
  return complete(base, own, out)
}

const notKnown = (label: string): Outcome => fault(`the label ${label} must be understood and is not known`)

/** Types of the labels (RFC 8428 table 4). */
const TYPES = {
  n: 'string',
  u: 'string',
  v: 'number',
  vs: 'string',
  vb: 'boolean',
  vd: 'string',
  s: 'number',
  t: 'number',
}

/** What the record itself says, before the base fields are added. */
type Own = {
  name: string
  unit: string | null
  timeS: number
  sum: number | null
  /** How many value fields, and how many base fields. */
  values: number
  bases: number
  /** A label whose value is of another type than the standard's. */
  wrong: keyof typeof TYPES | null
  /** A label that must be understood and is not known. */
  unknown: string | null
}

function readFields(fields: Readonly<Record<string, unknown>>, base: Base, out: Resolved): Own {
  const own: Own = { name: '', unit: null, timeS: 0, sum: null, values: 0, bases: 0, wrong: null, unknown: null }
  out.kind = 'none'
  out.value = null
  out.updateS = null
  for (const label in fields) {
    const value = fields[label]
    switch (label) {
      case 'n':
        if (typeof value === 'string') own.name = value
        else own.wrong = 'n'
        break
      case 'u':
        if (typeof value === 'string') own.unit = value
        else own.wrong = 'u'
        break
      case 'v':
      case 'vs':
      case 'vb':
      case 'vd':
        own.values++
        if (!takeValue(out, label, value)) own.wrong = label
        break
      case 't':
      case 's':
        takeNumber(own, label, numberOrNaN(value))
        break
      case 'ut':
        out.updateS = typeof value === 'number' && value >= 0 ? value : null
        break
      default:
        if (takeBase(base, label, value)) own.bases++
        else if (label.endsWith('_')) own.unknown = label
    }
  }
  return own
}

/** Takes the value over; false when it is not of its label's type. */
function takeValue(out: Resolved, label: 'v' | 'vs' | 'vb' | 'vd', value: unknown): boolean {
  if (label === 'v') {
    out.kind = 'number'
    out.value = numberOrNaN(value)
    return out.value !== null
  }
  out.kind = label === 'vb' ? 'boolean' : label === 'vs' ? 'string' : 'data'
  if (typeof value !== (label === 'vb' ? 'boolean' : 'string')) return false
  out.value = value as string | boolean
  return true
}

function takeNumber(own: Own, label: 't' | 's', number: number | null): void {
  if (number === null) own.wrong = label
  else if (label === 't') own.timeS = number
  else own.sum = number
}

/** Section 4.5: names are joined, times, values and sums added, a missing one counting as zero. */
function complete(base: Base, own: Own, out: Resolved): Outcome {
  if (base.name === null) return fault('bn is a string')
  if (base.timeS === null) return fault('bt is a number')
  if (own.unit === null && base.unit === null) return fault('bu is a string')
  if (out.kind === 'number') {
    if (base.value === null) return fault('bv is a number')
    if (typeof out.value === 'number') out.value += base.value
  }
  if (own.sum !== null || base.hasSum) {
    if (base.sum === null) return fault('bs is a number')
    out.sum = (own.sum ?? 0) + base.sum
  } else {
    out.sum = null
  }
  out.name = base.name === '' ? own.name : base.name + own.name
  out.unit = own.unit ?? base.unit ?? ''
  out.timeS = base.timeS + own.timeS
  return 'value'
}

/** Takes a base field over; false when the label is none. */
function takeBase(base: Base, label: string, value: unknown): boolean {
  switch (label) {
    case 'bn':
      base.name = typeof value === 'string' ? value : null
      return true
    case 'bt':
      base.timeS = numberOrNaN(value)
      return true
    case 'bu':
      base.unit = typeof value === 'string' ? value : null
      return true
    case 'bv':
      base.value = numberOrNaN(value)
      return true
    case 'bs':
      base.sum = numberOrNaN(value)
      base.hasSum = true
      return true
    case 'bver':
      return true
    default:
      // Labels of base fields begin with b (RFC 8428 section 12.2, from memory), so an unknown one of those that
      // must be understood bears on every later record too.
      if (label.startsWith('b') && label.endsWith('_')) base.unknown = label
      return false
  }
}

/** Null stands for a number that the sender could not write; anything else that is no number is a fault (null). */
function numberOrNaN(value: unknown): number | null {
  if (typeof value === 'number') return value
  return value === null ? Number.NaN : null
}

/** Characters of a resolved name, section 4.5.1. */
const NAME = /^[A-Za-z0-9][A-Za-z0-9\-:./_]*$/

/** Whether a resolved name is made of the allowed characters (section 4.5.1). */
export function isSenmlName(name: string): boolean {
  return NAME.test(name)
}

/**
 * The resolved form of a whole pack (section 4.6), relative times counted from `now`, in order of time.
 *
 * @param pack the parsed JSON array
 * @param nowS seconds since 1970 at receipt
 * @throws Error naming the first record that cannot be resolved
 */
export function resolvePack(pack: readonly unknown[], nowS: number): readonly Readonly<Resolved>[] {
  const version = versionFault(pack)
  if (version !== null) throw new Error(`SenML pack: ${version}`)
  const base = newBase()
  const resolved: Resolved[] = []
  for (const [index, record] of pack.entries()) {
    const out = newResolved()
    const outcome = resolveRecord(base, record, out)
    if (outcome === 'base-only') continue
    if (outcome !== 'value') throw new Error(`SenML record ${index}: ${outcome.fault}`)
    if (!isSenmlName(out.name)) throw new Error(`SenML record ${index}: the name "${out.name}" is not allowed`)
    if (out.timeS < RELATIVE_BELOW_S) out.timeS += nowS
    resolved.push(out)
  }
  return resolved.sort((a, b) => a.timeS - b.timeS)
}
