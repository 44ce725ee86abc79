import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { payloadOf } from '../../src/tell/payload.js'
import { signBody } from '../../src/tell/signed-post.js'
import { message } from './support.js'

const page = readFileSync(new URL('../../docs/telling.md', import.meta.url), 'utf8')

describe('docs/telling.md', () => {
  // The digits in the page were worked out with OpenSSL 3 (openssl dgst -sha256 -hmac).
  it('has a worked example whose signature is the one that a webhook is sent', () => {
    const [, secret = '', timestamp = '', body = ''] =
      /Key, timestamp and body:\n\n```\n(.*)\n(.*)\n(.*)\n```/.exec(page) ?? []
    const [, signature] = /Sightglass-Signature: sha256=([0-9a-f]{64})/.exec(page) ?? []
    expect(signature).toBe(signBody(secret, Number(timestamp), body))
    expect(page).toContain(`printf '%s' '${timestamp}.${body}'`)
  })

  it('names every member of the JSON object', () => {
    const table = page.slice(page.indexOf('| member |'), page.indexOf('| header |'))
    const named = [...table.matchAll(/`(\w+)`/g)].map(([, name]) => name)
    expect(Object.keys(payloadOf(message())).filter((member) => !named.includes(member))).toEqual([])
  })
})
