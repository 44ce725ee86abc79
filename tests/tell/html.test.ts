import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { type LongForm, toHtml } from '../../src/tell/sections.js'

/** Text as an attacker would have it stand in a mail: names of boards, payloads, answers of servers. */
const nasty = fc.oneof(
  fc.constantFrom(
    '<script>alert(1)</script>',
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    '</body></html><iframe src=//evil.example>',
    '<!--',
    ']]><svg/onload=alert(1)>',
    '&lt;script&gt;',
  ),
  fc.string({ unit: 'binary', maxLength: 40 }),
)
const lines = fc.array(nasty, { maxLength: 4 })
const form: fc.Arbitrary<LongForm> = fc.record({
  title: nasty,
  sections: fc.array(
    fc.record({
      heading: fc.option(nasty),
      form: fc.constantFrom('prose' as const, 'list' as const, 'numbered' as const, 'block' as const),
      lines,
      struck: fc.array(fc.boolean(), { maxLength: 4 }),
    }),
    { maxLength: 4 },
  ),
  link: fc.option(
    fc.record({ words: nasty, address: fc.oneof(nasty, fc.constant('https://juniper.example/ack/x"y')) }),
  ),
})

/** Every tag that the mail itself is made of, with nothing in it but its own style or address. */
const OWN =
  /<!doctype html>|<\/?(html|head|body|title|h1|h2|p|ul|ol|li|s|div|a)( (lang|style|href)="[^"<>]*")*>|<meta charset="utf-8">/g

describe('the HTML of a mail', () => {
  it('has no tag and no attribute but its own, whatever the words are', () => {
    fc.assert(
      fc.property(form, (made) => {
        const rest = toHtml(made).replace(OWN, '')
        expect(rest).not.toMatch(/[<>"]/)
      }),
    )
  })
})
