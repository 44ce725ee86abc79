/**
 * Telling by email over SMTP. A connection of its own for each message: pooled ones have been seen to hang without a
 * word after idling (nodemailer issues 511, 576). The whole attempt ends with the signal, since the library's own
 * limits are per step and cannot bound the sum (issue 1479).
 */
import { LIMITS } from '../../model/limits.js'
import type { Message } from '../../model/message.js'
import type { WaySettings } from '../../model/settings.js'
import type { Ms } from '../../model/time.js'
import { errorWords } from '../attempt.js'
import { stableId } from '../key.js'
import { oneLine } from '../line.js'
import type { Picture, Pictures } from '../picture/picture.js'
import { withPicture } from '../sections.js'
import { failed, type SendResult, type Way, wayDown } from '../way.js'

type EmailSettings = WaySettings & { readonly kind: 'email' }

const LOOPBACK = new Set(['localhost', '127.0.0.1', '::1'])

/** The part after the @ of an address, as a home for Message-IDs (RFC 5322, section 3.6.4). */
function domainOf(address: string): string {
  const domain = /@([\w.-]+)>?\s*$/.exec(address)?.[1]
  return domain ?? 'sightglass.invalid'
}

async function transportFor(settings: EmailSettings) {
  // Only where mail is sent at all: it is not small.
  const { default: nodemailer } = await import('nodemailer')
  const { host, port, secure, username, password } = settings
  return nodemailer.createTransport({
    host,
    port,
    secure,
    // A password never travels in the clear, except within this machine.
    requireTLS: !secure && username !== null && !LOOPBACK.has(host),
    connectionTimeout: LIMITS.deliveryDeadlineMs,
    greetingTimeout: LIMITS.deliveryDeadlineMs,
    socketTimeout: LIMITS.deliveryDeadlineMs,
    dnsTimeout: LIMITS.deliveryDeadlineMs,
    disableFileAccess: true,
    disableUrlAccess: true,
    ...(username === null ? {} : { auth: { user: username, pass: password ?? '' } }),
  })
}

/** The mail of a message: for a text-message gateway the short form alone, else text and HTML. */
function mailOf(message: Message, settings: EmailSettings, now: Ms, picture: Picture | null) {
  const from = oneLine(settings.from)
  const cid = `${stableId(message.key)}.chart@${domainOf(from)}`
  // Gateways put the subject before the text, which would make two text messages of one: the short form goes alone.
  const body = settings.short
    ? { text: message.short }
    : {
        subject: oneLine(message.subject) || 'Sightglass',
        text: message.text,
        ...htmlOf(message.html, picture, cid),
      }
  return {
    from,
    to: oneLine(settings.to),
    messageId: `<${stableId(message.key)}@${domainOf(from)}>`,
    date: new Date(now),
    // RFC 3834: keeps holiday replies and lists from answering a machine.
    headers: { 'Auto-Submitted': 'auto-generated' },
    ...body,
  }
}

/** The HTML, with its picture within the mail itself: nothing is loaded from anywhere. */
function htmlOf(html: string | null, picture: Picture | null, cid: string) {
  if (html === null) return {}
  if (picture === null) return { html }
  return {
    html: withPicture(html, cid, picture.words),
    attachments: [
      {
        filename: 'last-24-hours.png',
        content: picture.png,
        contentType: 'image/png',
        contentDisposition: 'inline' as const,
        cid,
      },
    ],
  }
}

function numberAt(error: unknown, key: string): number | null {
  const value = typeof error === 'object' && error !== null ? Reflect.get(error, key) : null
  return typeof value === 'number' ? value : null
}

/** RFC 5321, section 4.2.1: 4yz may go through later, 5yz will not; 421 closes the whole service. */
function resultOf(error: unknown): SendResult {
  const words = `SMTP: ${errorWords(error)}`
  const status = numberAt(error, 'responseCode')
  const code = typeof error === 'object' && error !== null ? Reflect.get(error, 'code') : null
  if (code === 'EAUTH' || status === 535 || status === 530 || status === 534) {
    // The account, not the message: keep it, but do not knock often enough to have the account locked.
    return wayDown(words, status !== null && status >= 500 ? LIMITS.deliveryRefusedMs : undefined)
  }
  if (status === 421) return wayDown(words)
  if (status !== null && status >= 500) return failed(false, words)
  if (status !== null && status >= 400) return failed(true, words)
  if (code === 'EENVELOPE' || code === 'EMESSAGE') return failed(false, words)
  return wayDown(words)
}

/** A picture is worth having and never worth a message: what goes wrong with it leaves it out. */
function pictureOf(message: Message, settings: EmailSettings, pictures: Pictures | undefined): Picture | null {
  if (settings.short || message.html === null || pictures === undefined) return null
  try {
    return pictures(message)
  } catch {
    return null
  }
}

/**
 * An email way of the configuration. `now` dates the mail; the text itself says when the thing happened. `pictures`:
 * what is drawn into it, absent where nothing is stored.
 */
export function createEmailWay(settings: EmailSettings, now: () => Ms, pictures?: Pictures): Way {
  return {
    kind: 'email',
    async send(message, signal) {
      const transport = await transportFor(settings)
      try {
        const picture = pictureOf(message, settings, pictures)
        await transport.sendMail({ ...mailOf(message, settings, now(), picture), signal })
        return { ok: true }
      } catch (error) {
        return resultOf(error)
      } finally {
        transport.close()
      }
    },
  }
}
