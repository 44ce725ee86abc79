/** Telling by webhook: POST of one signed JSON object. */
import { LIMITS } from '../../model/limits.js'
import type { WaySettings } from '../../model/settings.js'
import { type Ms, SECOND } from '../../model/time.js'
import { stableId } from '../key.js'
import { payloadOf } from '../payload.js'
import { signedPost } from '../signed-post.js'
import { failed, type SendResult, type Way, wayDown } from '../way.js'

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

/** What a status means for the message (RFC 9110, section 15). */
export function resultOf(status: number, retryAfter: string | undefined, now: Ms): SendResult {
  const answer = `the server answered ${status}`
  if (status >= 200 && status < 300) return { ok: true }
  if (status >= 300 && status < 400) return failed(false, `${answer}, a redirect; redirects are not followed`)
  if (status === 408 || status === 429 || status >= 500) return wayDown(answer, retryAfterMs(retryAfter, now))
  return failed(false, answer)
}

/** A webhook of the configuration. `now` stamps the signature. */
export function createWebhookWay(settings: WaySettings & { readonly kind: 'webhook' }, now: () => Ms): Way {
  return {
    kind: 'webhook',
    send: (message, signal) =>
      signedPost({
        url: settings.url,
        secret: settings.secret,
        body: JSON.stringify(payloadOf(message)),
        headers: { 'idempotency-key': `"${stableId(message.key)}"` },
        now,
        signal,
        read: (status, response) => resultOf(status, response.headers['retry-after'], now()),
      }),
  }
}
