import { execFileSync } from 'node:child_process'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { fitSeptets, septets, toGsm } from '../../src/tell/gsm.js'
import { shortForm } from '../../src/tell/short.js'
import { needs } from '../support/needs.js'

const perl = needs('perl')

/** Every character of the basic plane that Perl's core module Encode::GSM0338 can encode, with its length. */
function referenceAlphabet(program: string): ReadonlyMap<number, number> {
  const script = `use Encode; use Encode::GSM0338;
    for my $c (0..0xFFFF) { next if $c >= 0xD800 && $c <= 0xDFFF; my $s = chr $c;
      my $o = eval { Encode::encode("gsm0338", $s, Encode::FB_CROAK) };
      print $c, " ", length $o, "\\n" if defined $o }`
  const lines = execFileSync(program, ['-e', script], { encoding: 'utf8' }).trim().split('\n')
  return new Map(
    lines.map((line) => {
      const [code, length] = line.split(' ').map(Number)
      return [code ?? -1, length ?? -1]
    }),
  )
}

describe('the 7-bit alphabet', () => {
  // Reference: Encode::GSM0338, which follows 3GPP TS 23.038 and ETSI TS 123 038.
  it.skipIf(perl === null)('has the characters and lengths that Perl’s codec gives them, and no other', () => {
    const reference = referenceAlphabet(perl ?? '')
    expect(reference.size).toBe(137)
    const own = new Map<number, number>()
    for (let code = 0; code <= 0xffff; code += 1) {
      const count = septets(String.fromCharCode(code))
      if (count !== null) own.set(code, count)
    }
    expect(own).toEqual(reference)
  })

  it('takes any text, keeps what it has and spells out what it has not', () => {
    expect(toGsm('−4 °C … “full” – café Ñandú ½ ±3')).toBe('-4 C ... "full" - café Ñandu 1/2 +-3')
    expect(toGsm('水')).toBe('?')
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (text) => {
        expect(septets(toGsm(text))).not.toBeNull()
      }),
    )
  })

  it('counts two for a character of the extension table', () => {
    expect(septets('abc')).toBe(3)
    expect(septets('[€]')).toBe(6)
  })

  it('cuts between words and marks the cut, never past the limit', () => {
    expect(fitSeptets('one two three', 11)).toBe('one two...')
    fc.assert(
      fc.property(fc.string({ maxLength: 60 }), fc.integer({ min: 3, max: 50 }), (text, max) => {
        expect(septets(fitSeptets(toGsm(text), max))).toBeLessThanOrEqual(max)
      }),
    )
  })
})

describe('the short form', () => {
  const parts = {
    place: 'Juniper Bench',
    what: 'The pump runs and no water arrives',
    more: ['since 14:05', 'Pump current: 1.00 A (usual 2.80 A)'],
    action: 'Switch the pump off. Let the well rest.',
    link: null,
  }

  it('says place, what, since when, the number beside its usual, and what to do first', () => {
    expect(shortForm(parts)).toBe(
      'Juniper Bench: The pump runs and no water arrives, since 14:05, Pump current: 1.00 A (usual 2.80 A). Switch the pump off.',
    )
  })

  it('has a link whole or not at all', () => {
    const long = `https://juniper.example/ack/${'x'.repeat(80)}`
    expect(shortForm({ ...parts, link: long })).not.toContain('https')
    expect(shortForm({ ...parts, link: 'https://j.example/a' })).toMatch(/ https:\/\/j\.example\/a$/)
  })
})
