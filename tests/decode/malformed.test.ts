/**
 * Malformed and odd payloads, as boards, gateways and bad links make them: each is refused by its reason or believed
 * with its value; none throws, none becomes 0, and each is counted.
 */
import { describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import type { RefusalReason } from '../../src/model/sample.js'
import type { SignalSettings } from '../../src/model/settings.js'
import { fromTank, mapped, reasons, type Sent, values } from './site.js'

type Case = readonly [what: string, sent: Sent, reasons: readonly RefusalReason[], values: readonly number[]]

const bytes = (...codes: number[]) => Uint8Array.from(codes)
const NOT: readonly RefusalReason[] = ['not-senml']
const LEVEL = '{"n":"tank-level","u":"m","v":1.2}'
const deep = (depth: number) => `${'['.repeat(depth)}${']'.repeat(depth)}`

const PACKS: readonly Case[] = [
  ['an empty payload', '', NOT, []],
  ['one NUL', bytes(0), NOT, []],
  ['a NUL after a good pack', `[${LEVEL}]\u0000`, NOT, []],
  ['spaces alone', '   ', NOT, []],
  ['the word null', 'null', NOT, []],
  ['a number', '12.6', NOT, []],
  ['a string', '"level"', NOT, []],
  ['true', 'true', NOT, []],
  ['an empty array', '[]', NOT, []],
  ['an object instead of an array', LEVEL, NOT, []],
  ['an empty record', '[{}]', NOT, []],
  ['an array of numbers', '[1,2]', ['not-senml', 'not-senml'], []],
  ['an array of null', '[null]', NOT, []],
  ['an array of arrays', `[[${LEVEL}]]`, NOT, []],
  ['an array of strings', '["tank-level"]', NOT, []],
  ['a byte order mark before a good pack', `\ufeff[${LEVEL}]`, [], [1.2]],
  ['UTF-16', bytes(0xff, 0xfe, 0x5b, 0, 0x5d, 0), NOT, []],
  ['bytes that are no UTF-8', bytes(0x5b, 0xc3, 0x28, 0x5d), NOT, []],
  ['a cut UTF-8 letter', bytes(0x5b, 0x22, 0xe2, 0x82), NOT, []],
  ['an overlong UTF-8 zero', bytes(0xc0, 0x80), NOT, []],
  ['a pack cut in the middle', '[{"n":"tank-level","u":"m","v":1.', NOT, []],
  ['a pack cut after a record', `[${LEVEL},`, NOT, []],
  ['a trailing comma', `[${LEVEL},]`, NOT, []],
  ['single quotes', "[{'n':'tank-level','v':1.2}]", NOT, []],
  ['labels without quotes', '[{n:"tank-level",v:1.2}]', NOT, []],
  ['a comment', `[${LEVEL}/* ok */]`, NOT, []],
  ['two packs in one payload', `[${LEVEL}][${LEVEL}]`, NOT, []],
  ['XML', '<sensml/>', NOT, []],
  ['CBOR', bytes(0x81, 0xa2, 0x00, 0x61, 0x61, 0x02, 0x01), NOT, []],
  ['nested 20,000 deep', deep(20_000), NOT, []],
  ['a value nested 10,000 deep', `[{"n":"tank-level","v":${deep(10_000)}}]`, NOT, []],
  ['a level in hexadecimal', '[{"n":"tank-level","v":0x10}]', NOT, []],
  ['a value with a leading zero', '[{"n":"tank-level","v":01.2}]', NOT, []],
  ['a value with a plus', '[{"n":"tank-level","v":+1.2}]', NOT, []],
  ['a value without a digit before the point', '[{"n":"tank-level","v":.5}]', NOT, []],
  ['a decimal comma', '[{"n":"tank-level","v":1,2}]', NOT, []],
  ['a value as text', '[{"n":"tank-level","v":"1.2"}]', NOT, []],
  ['an empty value', '[{"n":"tank-level","v":""}]', NOT, []],
  ['a value that is a list', '[{"n":"tank-level","v":[1.2]}]', NOT, []],
  ['a value that is an object', '[{"n":"tank-level","v":{"m":1.2}}]', NOT, []],
  ['a value that is true', '[{"n":"tank-level","v":true}]', NOT, []],
  ['true where a level is due', '[{"n":"tank-level","vb":true}]', NOT, []],
  ['words where a level is due', '[{"n":"tank-level","vs":"1.2"}]', NOT, []],
  ['data where a level is due', '[{"n":"tank-level","vd":"MS4y"}]', NOT, []],
  ['two values', '[{"n":"tank-level","v":1.2,"vb":true}]', NOT, []],
  ['no value', '[{"n":"tank-level","u":"m"}]', NOT, []],
  ['a value that is null', '[{"n":"tank-level","v":null}]', ['not-finite'], [Number.NaN]],
  ['nan as C prints it', '[{"n":"tank-level","v":nan}]', ['not-finite'], [Number.NaN]],
  ['NaN as Python prints it', '[{"n":"tank-level","v":NaN}]', ['not-finite'], [Number.NaN]],
  ['-nan', '[{"n":"tank-level","v":-nan}]', ['not-finite'], [Number.NaN]],
  ['Infinity', '[{"n":"tank-level","v":-Infinity}]', ['not-finite'], [Number.NaN]],
  ['inf', '[{"n":"tank-level","v":inf}]', ['not-finite'], [Number.NaN]],
  ['a value too large for a double', '[{"n":"tank-level","v":1e999}]', ['not-finite'], [Number.NaN]],
  ['nan beside a good record', `[{"n":"humidity","v":nan},${LEVEL}]`, ['not-finite'], [Number.NaN, 1.2]],
  ['nan for a time: the value is kept', '[{"n":"tank-level","v":1.2,"t":nan}]', [], [1.2]],
  ['null for a time', '[{"n":"tank-level","v":1.2,"t":null}]', [], [1.2]],
  ['nan for a base time', `[{"bt":nan},${LEVEL}]`, [], [1.2]],
  ['a word with nan in it inside a string', '[{"n":"tank-level","v":1.2,"x":"nan inf \\" NaN"}]', [], [1.2]],
  ['an escaped quote before a nan', '[{"n":"tank-level","v":1.2,"x":"a \\" b","t":nan}]', [], [1.2]],
  ['nan as a label', '[{nan:1}]', NOT, []],
  ['a time as text', '[{"n":"tank-level","v":1.2,"t":"now"}]', NOT, []],
  ['a base time as text spoils what rests on it', `[{"bt":"noon"},${LEVEL}]`, NOT, []],
  ['a base time mended by the next', `[{"bt":"noon"},${LEVEL},{"bt":-5},${LEVEL}]`, NOT, [1.2]],
  ['a base name that is a number', `[{"bn":7},${LEVEL}]`, NOT, []],
  ['a base unit that is a number', '[{"bu":7},{"n":"tank-level","v":1.2}]', NOT, []],
  ['a base unit that is a number, and a unit', `[{"bu":7},${LEVEL}]`, [], [1.2]],
  ['a base value that is text', `[{"bv":"1"},${LEVEL}]`, NOT, []],
  ['a name that is a number', '[{"n":7,"v":1.2}]', NOT, []],
  ['a unit that is a number', '[{"n":"tank-level","u":7,"v":1.2}]', NOT, []],
  ['no name', '[{"v":1.2}]', NOT, []],
  ['an empty name', '[{"n":"","v":1.2}]', NOT, []],
  ['a name with a space', '[{"n":"tank level","v":1.2}]', NOT, []],
  ['a name that nobody configured', '[{"n":"tank-lever","v":1.2}]', ['unknown-name'], []],
  ['a name in other letters', '[{"n":"Tank-Level","v":1.2}]', ['unknown-name'], []],
  ['a name with only its end right', '[{"n":"upper-tank-level","v":1.2}]', ['unknown-name'], []],
  ['the name constructor', '[{"n":"constructor","v":1.2}]', ['unknown-name'], []],
  ['a name of 50,000 letters', `[{"n":"${'a'.repeat(50_000)}","v":1}]`, ['unknown-name'], []],
  ['the label __proto__', '[{"n":"tank-level","v":1.2,"__proto__":{"v":9}}]', NOT, []],
  ['the label constructor', '[{"n":"tank-level","v":1.2,"constructor":{"v":9}}]', [], [1.2]],
  ['a label twice: the last counts, as JSON parsers do', '[{"n":"tank-level","v":9,"v":1.2}]', [], [1.2]],
  ['a label in capitals is not known', '[{"n":"tank-level","V":1.2}]', NOT, []],
  ['a foreign unit', '[{"n":"tank-level","u":"ft","v":3}]', ['unit'], []],
  ['a unit of another kind', '[{"n":"tank-level","u":"V","v":3}]', ['unit'], []],
  ['a percentage', '[{"n":"tank-level","u":"%","v":50}]', ['unit'], []],
  ['an unknown unit', '[{"n":"tank-level","u":"smoot","v":3}]', ['unit'], []],
  ['a sum alone where no counter is', '[{"n":"tank-level","s":3}]', ['unit'], []],
  ['a level below the floor', '[{"n":"tank-level","v":-3}]', ['out-of-range'], [Number.NaN]],
  ['centimetres sent as metres', '[{"n":"tank-level","u":"m","v":120}]', ['out-of-range'], [Number.NaN]],
  ['the largest number', '[{"n":"tank-level","v":1.7976931348623157e308}]', ['out-of-range'], [Number.NaN]],
  ['an unplugged thermometer', '[{"n":"air-temperature","u":"Cel","v":-127}]', ['sentinel'], [Number.NaN]],
  ['a thermometer after a brown-out', '[{"n":"air-temperature","v":85.0}]', ['sentinel'], [Number.NaN]],
  ['a converter at full scale', '[{"n":"tank-level","v":4095}]', ['sentinel'], [Number.NaN]],
  ['a probe at 2', '[{"n":"tank-probe-low","v":2}]', ['out-of-range'], [Number.NaN]],
  ['a probe that says perhaps', '[{"n":"tank-probe-low","vs":"perhaps"}]', NOT, []],
  ['a probe that says nothing', '[{"n":"tank-probe-low","vs":""}]', NOT, []],
  ['a probe in volts', '[{"n":"tank-probe-low","u":"V","v":1}]', ['unit'], []],
  ['a probe in data', '[{"n":"tank-probe-low","vd":"MQ"}]', NOT, []],
  ['the far future', '[{"n":"tank-level","v":1.2,"t":1864000000}]', ['future'], []],
  ['milliseconds for seconds', '[{"n":"tank-level","v":1.2,"t":1764000000000}]', ['future'], []],
  ['a year ago', '[{"n":"tank-level","v":1.2,"t":1732464000}]', ['too-old'], []],
  ['a year before now', '[{"n":"tank-level","v":1.2,"t":-31536000}]', ['too-old'], []],
  ['a time of -1e300', '[{"n":"tank-level","v":1.2,"t":-1e300}]', ['too-old'], []],
  ['a time of 1e300', '[{"n":"tank-level","v":1.2,"t":1e300}]', ['future'], []],
  ['a newer version', `[{"bver":11},${LEVEL}]`, NOT, []],
  ['one bad record among good ones', `[${LEVEL},7,{"n":"humidity","u":"%RH","v":40}]`, NOT, [1.2, 40]],
  ['300 kB', ' '.repeat(300_000), ['too-large'], []],
  ['1 MB of a good pack', `[${LEVEL}${' '.repeat(1_000_000)}]`, ['too-large'], []],
]

describe('a board that sends SenML', () => {
  it.each(PACKS)('%s', (_what, sent, expectedReasons, expectedValues) => {
    const decoded = fromTank(sent)
    expect(reasons(decoded)).toEqual(expectedReasons)
    expect(values(decoded)).toEqual(expectedValues)
  })

  it('reads the first records of a pack that is too long, and says how many there were', () => {
    const decoded = fromTank(Array.from({ length: LIMITS.recordsMax + 3 }, (_, t) => ({ n: 'humidity', v: 4, t: -t })))
    expect(decoded.samples).toHaveLength(LIMITS.recordsMax)
    expect(reasons(decoded)).toEqual(['too-large'])
    expect(decoded.refusals[0]?.example).toContain('2003 records')
  })
})

type MappedCase = readonly [
  what: string,
  settings: Partial<SignalSettings>,
  sent: Sent,
  reasons: readonly RefusalReason[],
  values: readonly number[],
]

const JSON_VALUE = { decode: 'json', pointer: '/value' } as const

const MAPPED: readonly MappedCase[] = [
  ['12.6', {}, '12.6', [], [12.6]],
  ['spaces around', {}, ' 12.6 \n', [], [12.6]],
  ['a plus', {}, '+12.6', [], [12.6]],
  ['an exponent', {}, '126e-1', [], [12.6]],
  ['a bare point', {}, '12.', [], [12]],
  ['a real zero', {}, '0', [], [0]],
  ['an empty payload', {}, '', NOT, []],
  ['spaces', {}, '  ', NOT, []],
  ['a decimal comma', {}, '12,6', NOT, []],
  ['a unit behind', {}, '12.6V', NOT, []],
  ['a unit behind a space', {}, '12.6 V', NOT, []],
  ['two numbers', {}, '12.6 12.7', NOT, []],
  ['two points', {}, '12.6.1', NOT, []],
  ['hexadecimal', {}, '0x1F', NOT, []],
  ['binary', {}, '0b11', NOT, []],
  ['a thousands mark', {}, '1_000', NOT, []],
  ['nan', {}, 'nan', ['not-finite'], [Number.NaN]],
  ['NaN with spaces', {}, ' NaN ', ['not-finite'], [Number.NaN]],
  ['-inf', {}, '-inf', ['not-finite'], [Number.NaN]],
  ['Infinity', {}, 'Infinity', ['not-finite'], [Number.NaN]],
  ['too large for a double', {}, '1e400', ['not-finite'], [Number.NaN]],
  ['a word', {}, 'unavailable', NOT, []],
  ['true', {}, 'true', NOT, []],
  ['JSON', {}, '{"value":12.6}', NOT, []],
  ['a trailing NUL', {}, '12.6\u0000', NOT, []],
  ['full-width digits', {}, '１２.６', NOT, []],
  ['no UTF-8', {}, bytes(0xff), NOT, []],
  ['a failed sensor', {}, '65535', ['sentinel'], [Number.NaN]],
  ['beyond the role', {}, '900', ['out-of-range'], [Number.NaN]],
  ['a number at the pointer', JSON_VALUE, '{"value":12.6}', [], [12.6]],
  ['a number as text at the pointer', JSON_VALUE, '{"value":"12.6"}', [], [12.6]],
  ['a comma at the pointer', JSON_VALUE, '{"value":"12,6"}', NOT, []],
  ['nothing as text at the pointer', JSON_VALUE, '{"value":""}', NOT, []],
  ['null at the pointer', JSON_VALUE, '{"value":null}', ['not-finite'], [Number.NaN]],
  ['nan at the pointer', JSON_VALUE, '{"value":nan}', ['not-finite'], [Number.NaN]],
  ['nan elsewhere', JSON_VALUE, '{"value":12.6,"t":nan}', [], [12.6]],
  ['true at the pointer', JSON_VALUE, '{"value":true}', NOT, []],
  ['an object at the pointer', JSON_VALUE, '{"value":{}}', NOT, []],
  ['a list at the pointer', JSON_VALUE, '{"value":[12.6]}', NOT, []],
  ['nothing at the pointer', JSON_VALUE, '{"volts":12.6}', ['unknown-name'], []],
  ['no object', JSON_VALUE, '12.6', ['unknown-name'], []],
  ['no JSON', JSON_VALUE, 'value=12.6', NOT, []],
  ['cut JSON', JSON_VALUE, '{"value":12.', NOT, []],
  ['nested 20,000 deep', JSON_VALUE, deep(20_000), ['unknown-name'], []],
]

describe('a mapped voltage', () => {
  it.each(MAPPED)('%s', (_what, settings, sent, expectedReasons, expectedValues) => {
    const decoded = mapped('battery-voltage', settings, sent)
    expect(reasons(decoded)).toEqual(expectedReasons)
    expect(values(decoded)).toEqual(expectedValues)
  })

  it('the tables above hold the malformed payloads that they promise', () => {
    expect(PACKS.length + MAPPED.length).toBeGreaterThan(140)
  })
})
