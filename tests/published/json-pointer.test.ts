/** JSON Pointer, RFC 6901 (April 2013): the examples of section 5, and the rules of sections 3 and 4. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { follow, parsePointer } from '../../src/decode/json-pointer.js'

/** The document of section 5. */
const DOCUMENT: unknown = JSON.parse(
  String.raw`{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`,
)

function evaluate(text: string, document = DOCUMENT): unknown {
  const pointer = parsePointer(text)
  if (pointer === null) throw new Error(`${text} is no pointer`)
  return follow(document, pointer)
}

describe('RFC 6901', () => {
  it.each([
    ['', DOCUMENT],
    ['/foo', ['bar', 'baz']],
    ['/foo/0', 'bar'],
    ['/', 0],
    ['/a~1b', 1],
    ['/c%d', 2],
    ['/e^f', 3],
    ['/g|h', 4],
    ['/i\\j', 5],
    ['/k"l', 6],
    ['/ ', 7],
    ['/m~0n', 8],
  ])('section 5: %j', (text, expected) => {
    expect(evaluate(text)).toEqual(expected)
  })

  it('section 4: ~01 means ~1, not a slash', () => {
    expect(evaluate('/~01', { '~1': 'right', '/': 'wrong' })).toBe('right')
  })

  it.each(['foo', '#/foo', '~', '/a~', '/a~2b', ' /foo', '/~~0'])('section 3: %j is no pointer', (text) => {
    expect(parsePointer(text)).toBeNull()
  })

  it.each(['/foo/2', '/foo/-', '/foo/00', '/foo/01', '/foo/+1', '/foo/1e0', '/foo/ 0', '/foo/', '/foo/length'])(
    'section 4: %j finds no array element',
    (text) => {
      expect(evaluate(text)).toBeUndefined()
    },
  )

  it.each(['/nothing', '/a/b', '/foo/0/0', '/a~1b/x', '/constructor', '/__proto__', '/toString/name'])(
    'section 7: %j points at nothing',
    (text) => {
      expect(evaluate(text)).toBeUndefined()
    },
  )

  it('any member name can be pointed at once ~ and / are escaped', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), fc.integer(), (name, value) => {
        const document = Object.fromEntries([[name, value]])
        expect(evaluate(`/${name.replaceAll('~', '~0').replaceAll('/', '~1')}`, document)).toBe(value)
      }),
    )
  })
})
