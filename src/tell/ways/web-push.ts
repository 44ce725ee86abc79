/**
 * Push to a browser: the Push API's message protocol (RFC 8030), its encryption (RFC 8291) and its signature (RFC 8292),
 * made by the library; sent by us, so that no redirect is followed. A push service that says a browser is gone (404, 410)
 * is believed, and the person is told by their other ways; one that refuses us (401, 403) is asked again: a clock that is
 * half a day wrong has the same look.
 */
import { createECDH } from 'node:crypto'
import { request as httpRequest } from 'node:http'
import { request as httpsRequest } from 'node:https'
import type { LookupFunction } from 'node:net'
import webpush from 'web-push'
import { LIMITS } from '../../model/limits.js'
import type { Message } from '../../model/message.js'
import type { WaySettings } from '../../model/settings.js'
import type { Ms } from '../../model/time.js'
import { errorWords } from '../attempt.js'
import { stableId } from '../key.js'
import { failed, type SendResult, type Way, wayDown } from '../way.js'
import { retryAfterMs } from './webhook.js'

export type PushKeys = { readonly publicKey: string; readonly privateKey: string }

export type Browser = { readonly endpoint: string; readonly p256dh: string; readonly auth: string }

/** Where subscriptions are kept, and who hears that one is gone. */
export type Browsers = {
  list(site: string, person: string, way: string): readonly Browser[]
  /** The browser's push service says that it is gone for good. */
  gone(site: string, person: string, way: string, endpoint: string): void
}

/** The key pair of RFC 8292 (P-256), from 32 secret bytes: the same bytes, the same pair. base64url, as browsers want it. */
export function pushKeys(secret: Uint8Array): PushKeys {
  const pair = createECDH('prime256v1')
  pair.setPrivateKey(secret)
  return { publicKey: pair.getPublicKey('base64url'), privateKey: Buffer.from(secret).toString('base64url') }
}

const URGENCY: Readonly<Record<Message['priority'], webpush.Urgency>> = {
  critical: 'high',
  high: 'high',
  medium: 'normal',
  low: 'low',
}

export type WebPushOptions = {
  readonly keys: PushKeys
  readonly browsers: Browsers
  readonly now: () => Ms
  /** How the name of a push service becomes an address; the running daemon refuses those of networks of its own. */
  readonly lookup?: LookupFunction
}

export function createWebPushWay(settings: WaySettings & { readonly kind: 'web-push' }, options: WebPushOptions): Way {
  const { browsers, now } = options
  return {
    kind: 'web-push',
    async send(message, signal) {
      const { site, person, way } = message
      const known = browsers.list(site, person, way)
      if (known.length === 0) return failed(false, 'no browser has asked to be told by this way: open the page and ask')
      const results = await Promise.all(known.map((one) => push(one, message, settings, options, signal)))
      for (const [index, result] of results.entries()) {
        const one = known[index]
        if (one !== undefined && 'gone' in result) browsers.gone(site, person, way, one.endpoint)
      }
      return inSum(results, now)
    },
  }
}

type Answer = SendResult | { readonly gone: true }

/** One browser that took it is enough; else the failure that may yet pass, else that all are gone. */
function inSum(results: readonly Answer[], now: () => Ms): SendResult {
  const said = results.filter((result): result is SendResult => !('gone' in result))
  const good = said.find(({ ok }) => ok)
  const passing = said.find((result) => !result.ok && result.retry)
  return (
    good ??
    passing ??
    said[0] ??
    failed(false, `every browser of this way is gone, as of ${new Date(now()).toISOString()}`)
  )
}

async function push(
  browser: Browser,
  message: Message,
  settings: WaySettings & { readonly kind: 'web-push' },
  { keys, now, lookup }: WebPushOptions,
  signal: AbortSignal,
): Promise<Answer> {
  const { priority, kind, site, about, key, subject, short } = message
  const payload = JSON.stringify({ version: 1, id: stableId(key), kind, site, alarm: about, priority, subject, short })
  let details: webpush.RequestDetails
  try {
    details = webpush.generateRequestDetails(
      { endpoint: browser.endpoint, keys: { p256dh: browser.p256dh, auth: browser.auth } },
      payload,
      {
        vapidDetails: { subject: settings.contact, ...keys },
        TTL: LIMITS.pushKeptS,
        urgency: URGENCY[priority],
        contentEncoding: 'aes128gcm',
      },
    )
  } catch (error) {
    return failed(false, `the browser's subscription cannot be used: ${errorWords(error)}`)
  }
  return send(details, signal, now, lookup)
}

function send(
  { endpoint, method, headers, body }: webpush.RequestDetails,
  signal: AbortSignal,
  now: () => Ms,
  lookup: LookupFunction | undefined,
) {
  const url = new URL(endpoint)
  const make = url.protocol === 'https:' ? httpsRequest : httpRequest
  return new Promise<Answer>((resolve) => {
    const request = make(url, {
      method,
      headers: { ...headers, 'content-length': String(body?.length ?? 0) },
      agent: false,
      signal,
      ...(lookup === undefined ? {} : { lookup }),
    })
    request.once('response', (response) => {
      response.on('error', () => {})
      const answer = answerOf(response.statusCode ?? 0, response.headers['retry-after'], now())
      response.destroy()
      resolve(answer)
    })
    request.on('error', (error) => resolve(wayDown(`cannot reach the push service: ${errorWords(error)}`)))
    request.end(body ?? undefined)
  })
}

/** RFC 8030, sections 5 and 7.3. */
function answerOf(status: number, retryAfter: string | undefined, now: Ms): Answer {
  const answer = `the push service answered ${status}`
  if (status >= 200 && status < 300) return { ok: true }
  if (status === 404 || status === 410) return { gone: true }
  if (status === 401 || status === 403)
    return wayDown(`${answer}: it does not accept our signature; is the clock right?`)
  if (status === 429 || status >= 500) return wayDown(answer, retryAfterMs(retryAfter, now))
  return failed(false, answer)
}
