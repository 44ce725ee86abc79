/** Routes by which a browser asks to be told, and asks no more. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { requirePerson } from '../access/guard.js'
import { askedSite, SiteQuery } from '../bodies/common.js'
import { ApiError, COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

/** Private, link-local and loopback hosts: a browser's push service is none, and we shall not be made to call one. */
const PRIVATE_HOST =
  /^(localhost|.*\.localhost|.*\.local|.*\.internal|\[.*\]|0\..*|10\..*|127\..*|169\.254\..*|192\.168\..*|172\.(1[6-9]|2\d|3[01])\..*|100\.(6[4-9]|[7-9]\d|1[01]\d|12[0-7])\..*|\d+|0x.*)$/i

const Endpoint = z
  .url()
  .max(1_024)
  .refine((url) => URL.canParse(url) && new URL(url).protocol === 'https:', 'is not an https address')
  .refine(
    (url) => URL.canParse(url) && !PRIVATE_HOST.test(new URL(url).hostname.replace(/\.$/, '')),
    'is not a push service',
  )
const Base64Url = z.string().regex(/^[A-Za-z0-9_-]+={0,2}$/)

const Asked = z.strictObject({
  person: z.string().max(64).describe('A name under tell.people'),
  way: z.string().max(64).describe('A way of that person of the kind web-push'),
  subscription: z
    .object({
      endpoint: Endpoint,
      keys: z.object({ p256dh: Base64Url.length(87), auth: Base64Url.min(22).max(24) }),
    })
    .describe('As PushSubscription.toJSON() of the Push API gives it'),
})

const Offered = z.object({
  public_key: z.string().describe('applicationServerKey of the Push API: RFC 8292, base64url'),
  people: z.array(z.object({ person: z.string(), way: z.string(), browsers: z.number() })),
})

const Done = z.object({ done: z.literal(true) })

export function pushRoutes({ source }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/push',
      {
        config: { needs: 'owner' },
        schema: {
          summary: 'Who can be told by web push, and the key to ask a browser with',
          tags: ['read'],
          querystring: SiteQuery,
          response: { 200: Offered, ...COMMON_ERRORS },
        },
      },
      (request) => {
        const site = askedSite(source, request.query.site)
        return { public_key: source.pushKey(), people: [...source.pushPeople(site.id)] }
      },
    )

    app.post(
      '/api/push',
      {
        config: { needs: 'owner' },
        schema: {
          summary: 'Tell this browser; asked again it is renewed',
          tags: ['act'],
          querystring: SiteQuery,
          body: Asked,
          response: { 200: Done, ...COMMON_ERRORS },
        },
      },
      (request) => {
        const site = askedSite(source, request.query.site)
        const { person, way, subscription } = request.body
        const { endpoint, keys } = subscription
        const { name } = requirePerson(request)
        if (!source.addBrowser(site.id, person, way, { endpoint, ...keys }, name)) {
          throw new ApiError(400, `"${person}" is not told by a way "${way}" of the kind web-push`, 'way')
        }
        return { done: true as const }
      },
    )

    app.delete(
      '/api/push',
      {
        config: { needs: 'owner' },
        schema: {
          summary: 'Tell this browser no more; harmless twice',
          tags: ['act'],
          querystring: SiteQuery,
          body: z.strictObject({ endpoint: Endpoint }),
          response: { 200: Done, ...COMMON_ERRORS },
        },
      },
      (request) => {
        askedSite(source, request.query.site)
        source.removeBrowser(request.body.endpoint)
        return { done: true as const }
      },
    )
  }
}
