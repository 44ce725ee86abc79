/**
 * POST of one JSON object, signed with HMAC-SHA-256 (RFC 2104) over the time and the body. One connection a message
 * and no redirects: an answer must not be able to send us, and what we know, elsewhere.
 */
import { createHmac } from 'node:crypto'
import { type IncomingMessage, request as httpRequest } from 'node:http'
import { request as httpsRequest } from 'node:https'
import { type Ms, SECOND } from '../model/time.js'
import { errorWords } from './attempt.js'
import { failed, type SendResult, wayDown } from './way.js'

/** The signature as a receiver has to compute it: HMAC-SHA-256 over `timestamp.body`, in hexadecimal digits. */
export function signBody(secret: string, timestampS: number, body: string): string {
  return createHmac('sha256', secret).update(`${timestampS}.${body}`, 'utf8').digest('hex')
}

export type SignedPost = {
  readonly url: string
  /** Null: not signed. */
  readonly secret: string | null
  readonly body: string
  readonly headers?: Readonly<Record<string, string>>
  /** Stamps the signature. */
  readonly now: () => Ms
  readonly signal: AbortSignal
  /** What an answer means. */
  readonly read: (status: number, response: IncomingMessage) => SendResult
}

/** Sends it. Never throws for what the other side does: no answer is a way that is down. */
export function signedPost({ url, secret, body, headers = {}, now, signal, read }: SignedPost): Promise<SendResult> {
  if (!URL.canParse(url) || !/^https?:/i.test(url)) {
    return Promise.resolve(failed(false, 'the address is not one of http or https'))
  }
  const address = new URL(url)
  const timestampS = Math.floor(now() / SECOND)
  const signature = secret === null ? {} : { 'sightglass-signature': `sha256=${signBody(secret, timestampS, body)}` }
  const all = {
    'content-type': 'application/json; charset=utf-8',
    'content-length': String(Buffer.byteLength(body)),
    'user-agent': 'sightglass',
    'sightglass-timestamp': String(timestampS),
    ...signature,
    ...headers,
  }
  const make = address.protocol === 'https:' ? httpsRequest : httpRequest
  return new Promise((resolve) => {
    const request = make(address, { method: 'POST', headers: all, agent: false, signal, maxHeaderSize: 16_384 })
    request.once('response', (response) => {
      // Cutting the connection may still raise an error; the answer is known by then.
      response.on('error', () => {})
      // The status decides; the body is of no use to us and is not waited for.
      const result = read(response.statusCode ?? 0, response)
      response.destroy()
      resolve(result)
    })
    request.on('error', (error) => resolve(wayDown(`cannot reach the server: ${errorWords(error)}`)))
    request.end(body)
  })
}
