/** gzip (RFC 1952) for answers that are worth it: a day of curves over a thin link is a tenth of its size. */
import { promisify } from 'node:util'
import { gzip } from 'node:zlib'
import type { FastifyInstance } from 'fastify'

/** Below this a smaller answer saves no packet. */
const WORTH_BYTES = 1_024
/** Fast rather than smallest: the daemon may run on a small board. */
const LEVEL = 4
const gzipAsync = promisify(gzip)

/** Whether an Accept-Encoding header takes gzip (RFC 9110, 12.5.3; a weight of 0 means "not this"). */
export function takesGzip(header: string | undefined): boolean {
  return (header ?? '')
    .toLowerCase()
    .split(',')
    .some((word) => {
      const [name, ...rest] = word.split(';').map((piece) => piece.trim())
      return (name === 'gzip' || name === '*') && !rest.some((piece) => /^q=0(\.0*)?$/.test(piece))
    })
}

/** Compresses text answers of this part of the app. */
export function addCompression(app: FastifyInstance): void {
  app.addHook('onSend', async (request, reply, payload) => {
    if (typeof payload !== 'string' || payload.length < WORTH_BYTES) return payload
    void reply.header('vary', 'accept-encoding')
    if (!takesGzip(request.headers['accept-encoding'])) return payload
    const packed = await gzipAsync(payload, { level: LEVEL })
    void reply.header('content-encoding', 'gzip').header('content-length', packed.length)
    return packed
  })
}
