/**
 * Telling by webhook: POST of one JSON object, signed with HMAC-SHA-256 (RFC 2104) over the time and the body.
 * One connection a message and no redirects: an answer must not be able to send us, and what we know, elsewhere.
 */
import { createHmac } from 'node:crypto'
import { type ClientRequest, type IncomingMessage, request as httpRequest } from 'node:http'
import { request as httpsRequest } from 'node:https'
import { LIMITS } from '../../model/limits.js'
import type { WaySettings } from '../../model/settings.js'
import { type Ms, SECOND } from '../../model/time.js'
import { errorWords } from '../attempt.js'
import { stableId } from '../key.js'
import { payloadOf } from '../payload.js'
import { failed, type SendResult, type Way, wayDown } from '../way.js'

/** The signature as a receiver has to compute it: HMAC-SHA-256 over `timestamp.body`, in hexadecimal digits. */
export function signBody(secret: string, timestampS: number, body: string): string {
  return createHmac('sha256', secret).update(`${timestampS}.${body}`, 'utf8').digest('hex')
}

/**
 * The wait that a Retry-After header asks for (RFC 9110, section 10.2.3: seconds, or a date), bounded; undefined
 * where there is none to be read.
 */
export function retryAfterMs(header: string | undefined, now: Ms): number | undefined {
  if (header === undefined) return undefined
  const text = header.trim()
  const wait = /^\d{1,9}$/.test(text) ? Number(text) * SECOND : Date.parse(text) - now
  if (!Number.isFinite(wait)) return undefined
  return Math.min(Math.max(wait, 0), LIMITS.deliveryRetryAfterMaxMs)
}

function resultOf(status: number, header: string | undefined, now: Ms): SendResult {
  const answer = `the server answered ${status}`
  if (status >= 200 && status < 300) return { ok: true }
  if (status >= 300 && status < 400) return failed(false, `${answer}, a redirect; redirects are not followed`)
  if (status === 408 || status === 429 || status >= 500) return wayDown(answer, retryAfterMs(header, now))
  return failed(false, answer)
}

/** The status decides; the body is of no use to us and is not waited for. */
function readAnswer(response: IncomingMessage, now: Ms): SendResult {
  const result = resultOf(response.statusCode ?? 0, response.headers['retry-after'], now)
  response.destroy()
  return result
}

function open(url: URL, headers: Readonly<Record<string, string>>, signal: AbortSignal): ClientRequest {
  const make = url.protocol === 'https:' ? httpsRequest : httpRequest
  return make(url, { method: 'POST', headers, agent: false, signal, maxHeaderSize: 16_384 })
}

/** A webhook of the configuration. `now` stamps the signature. */
export function createWebhookWay(settings: WaySettings & { readonly kind: 'webhook' }, now: () => Ms): Way {
  return {
    kind: 'webhook',
    send(message, signal) {
      if (!URL.canParse(settings.url) || !/^https?:/i.test(settings.url)) {
        return Promise.resolve(failed(false, 'the address is not one of http or https'))
      }
      const body = JSON.stringify(payloadOf(message))
      const timestampS = Math.floor(now() / SECOND)
      const headers = {
        'content-type': 'application/json; charset=utf-8',
        'content-length': String(Buffer.byteLength(body)),
        'user-agent': 'sightglass',
        'idempotency-key': `"${stableId(message.key)}"`,
        'sightglass-timestamp': String(timestampS),
        'sightglass-signature': `sha256=${signBody(settings.secret, timestampS, body)}`,
      }
      return new Promise((resolve) => {
        const request = open(new URL(settings.url), headers, signal)
        request.once('response', (response) => {
          // Cutting the connection may still raise an error; the answer is known by then.
          response.on('error', () => {})
          resolve(readAnswer(response, now()))
        })
        request.on('error', (error) => resolve(wayDown(`cannot reach the server: ${errorWords(error)}`)))
        request.end(body)
      })
    },
  }
}
