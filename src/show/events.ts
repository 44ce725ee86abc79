/**
 * Server-sent events (WHATWG HTML, "Server-sent events"): tells open pages that something changed, so that they ask
 * again. Bounded in listeners and in what waits for a listener that does not read; ended at once when the app closes,
 * since an open stream would keep it from closing.
 */
import type { FastifyReply, FastifyRequest } from 'fastify'
import { LIMITS } from '../model/limits.js'
import { iso } from './bodies/common.js'
import { ApiError } from './errors.js'
import type { ShowEvent, ShowSource } from './source.js'

export type EventHub = {
  /** Takes the reply over and keeps it open. Throws 503 when there are too many listeners. */
  readonly listen: (request: FastifyRequest, reply: FastifyReply, site: string, stillWelcome: () => boolean) => void
  readonly clients: () => number
  readonly close: () => void
}

type Client = { readonly site: string; readonly reply: FastifyReply; readonly stillWelcome: () => boolean }

/** What a browser waits before it connects again. */
const RETRY_MS = 5_000

/** One event as it goes over the wire. */
export function eventText(event: ShowEvent): string {
  return `event: ${event.kind}\ndata: ${JSON.stringify({ site: event.site, at: iso(event.at) })}\n\n`
}

/** Subscribes to the source once, and hands its events on to every listener of that site. */
export function createEventHub(source: ShowSource, heartbeatMs: number = LIMITS.eventHeartbeatMs): EventHub {
  const clients = new Set<Client>()

  function drop(client: Client): void {
    clients.delete(client)
    client.reply.raw.end()
  }

  function send(client: Client, text: string): void {
    const { raw } = client.reply
    if (raw.writableLength > LIMITS.eventBacklogBytesMax) {
      clients.delete(client)
      raw.destroy()
      return
    }
    raw.write(text)
  }

  const unsubscribe = source.subscribe((event) => {
    for (const client of clients) if (client.site === event.site) send(client, eventText(event))
  })
  const heartbeat = setInterval(() => {
    for (const client of clients) {
      if (client.stillWelcome()) send(client, ': still here\n\n')
      else drop(client)
    }
  }, heartbeatMs)
  heartbeat.unref()

  return {
    listen(request, reply, site, stillWelcome) {
      if (clients.size >= LIMITS.eventClientsMax) throw new ApiError(503, 'Too many pages are listening; poll instead')
      const client: Client = { site, reply, stillWelcome }
      reply.hijack()
      for (const [name, value] of Object.entries(reply.getHeaders())) {
        if (value !== undefined) reply.raw.setHeader(name, value)
      }
      reply.raw.writeHead(200, {
        'content-type': 'text/event-stream; charset=utf-8',
        'cache-control': 'no-store',
        'x-accel-buffering': 'no',
      })
      reply.raw.write(`retry: ${RETRY_MS}\n\n`)
      clients.add(client)
      request.raw.on('close', () => clients.delete(client))
      reply.raw.on('error', () => clients.delete(client))
    },
    clients: () => clients.size,
    close() {
      clearInterval(heartbeat)
      unsubscribe()
      for (const client of clients) drop(client)
    },
  }
}
