/** The HTTP side of the program: `createApp` joins access, routes, documents and the page. */
import type { Server } from 'node:http'
import { createServer as createHttpsServer } from 'node:https'
import cookie from '@fastify/cookie'
import helmet from '@fastify/helmet'
import rateLimit from '@fastify/rate-limit'
import fastifyStatic from '@fastify/static'
import swagger from '@fastify/swagger'
import Fastify, { type FastifyHttpOptions, type FastifyInstance } from 'fastify'
import {
  jsonSchemaTransform,
  jsonSchemaTransformObject,
  serializerCompiler,
  validatorCompiler,
} from 'fastify-type-provider-zod'
import { LIMITS } from '../model/limits.js'
import { ACT_HEADER, addGuard, cookieName } from './access/guard.js'
import { createSessions } from './access/sessions.js'
import { addCompression } from './compress.js'
import { errorHandler } from './errors.js'
import { createEventHub } from './events.js'
import { actRoutes } from './routes/act.js'
import { freezeRoute } from './routes/freeze.js'
import { linkRoutes } from './routes/link.js'
import { placeRoutes } from './routes/place.js'
import { healthRoute, machineRoutes } from './routes/machine.js'
import { pushRoutes } from './routes/push.js'
import { readRoutes } from './routes/read.js'
import { seasonRoutes } from './routes/season.js'
import { sessionRoutes } from './routes/session.js'
import { backtestRoute } from './routes/backtest.js'
import { sizingRoute } from './routes/sizing.js'
import { tokenRoutes } from './routes/tokens.js'
import { usualRoute } from './routes/usual.js'
import type { AppDeps } from './source.js'

/** Nothing of the page comes from elsewhere, and nothing of it is written into the document. */
const POLICY = {
  defaultSrc: ["'none'"],
  scriptSrc: ["'self'"],
  styleSrc: ["'self'"],
  imgSrc: ["'self'"],
  connectSrc: ["'self'"],
  manifestSrc: ["'self'"],
  workerSrc: ["'self'"],
  formAction: ["'self'"],
  baseUri: ["'none'"],
  frameAncestors: ["'none'"],
}

function bareServer(tls: AppDeps['tls']): FastifyInstance {
  const options: FastifyHttpOptions<Server> = {
    bodyLimit: LIMITS.requestBytesMax,
    requestTimeout: LIMITS.requestTimeoutMs,
    logger: false,
    // Alarm keys and acknowledging tokens are longer than the router's usual 100 characters.
    routerOptions: { maxParamLength: 1_100 },
    forceCloseConnections: true,
  }
  if (tls !== null) {
    options.serverFactory = (handler) =>
      createHttpsServer({ key: tls.key, cert: tls.cert, requestTimeout: LIMITS.requestTimeoutMs }, handler)
  }
  return Fastify(options)
}

function describeApi(app: FastifyInstance, deps: AppDeps): void {
  app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Sightglass',
        version: deps.version,
        description: `Times are ISO 8601, figures SI as their names say, unknown is null. Whatever acts must carry the header ${ACT_HEADER}: 1.`,
      },
      components: {
        securitySchemes: {
          session: { type: 'apiKey', in: 'cookie', name: cookieName(deps.tls !== null) },
          basic: { type: 'http', scheme: 'basic' },
          token: { type: 'http', scheme: 'bearer' },
        },
      },
      ...(deps.access === 'open' ? {} : { security: [{ session: [] }, { basic: [] }, { token: [] }] }),
    },
    transform: jsonSchemaTransform,
    transformObject: jsonSchemaTransformObject,
  })
}

function servePage(app: FastifyInstance, pageDir: string): void {
  app.register(fastifyStatic, {
    root: pageDir,
    preCompressed: true,
    schemaHide: true,
    cacheControl: false,
    setHeaders(reply, path) {
      // Names in assets/ carry a hash of what is in them; everything else is asked for again each time.
      const forEver = /[\\/]assets[\\/]/.test(path)
      void reply.header('cache-control', forEver ? 'public, max-age=31536000, immutable' : 'no-cache')
    },
  })
}

/**
 * Builds the app without listening: `await app.listen({ host, port })` is the daemon's, `app.inject` the tests'.
 * `app.close()` ends the event streams first, so that it comes to an end.
 */
export function createApp(deps: AppDeps): FastifyInstance {
  const app = bareServer(deps.tls)
  const sessions = createSessions(deps.randomBytes)
  const hub = createEventHub(deps.source)

  app.removeContentTypeParser('text/plain')
  app.setValidatorCompiler(validatorCompiler)
  app.setSerializerCompiler(serializerCompiler)
  app.setErrorHandler(errorHandler(deps.onError, deps.onRefused))
  app.setNotFoundHandler((request, reply) => {
    void reply.code(404).send({
      error: `There is nothing at ${request.method} ${request.url.split('?')[0]}`,
      field: null,
      expected: null,
    })
  })
  app.decorateRequest('person', null)
  app.addHook('preClose', async () => hub.close())

  app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: POLICY },
    strictTransportSecurity: deps.tls === null ? false : { maxAge: 15_552_000 },
    referrerPolicy: { policy: 'no-referrer' },
  })
  app.register(cookie)
  app.register(rateLimit, { global: false })
  describeApi(app, deps)

  app.register(healthRoute(deps))
  app.register(linkRoutes(deps))
  app.register(async (guarded) => {
    addGuard(guarded, deps, sessions)
    guarded.addHook('onSend', async (_request, reply) => {
      if (!reply.hasHeader('cache-control')) void reply.header('cache-control', 'no-store')
    })
    addCompression(guarded)
    guarded.register(readRoutes(deps))
    guarded.register(usualRoute(deps))
    guarded.register(freezeRoute(deps))
    guarded.register(sizingRoute(deps))
    guarded.register(backtestRoute(deps))
    guarded.register(placeRoutes(deps))
    guarded.register(actRoutes(deps))
    guarded.register(pushRoutes(deps))
    guarded.register(sessionRoutes(deps, sessions))
    guarded.register(tokenRoutes(deps))
    guarded.register(seasonRoutes(deps))
    guarded.register(machineRoutes(deps, sessions, hub))
    guarded.get('/api/openapi.json', { schema: { hide: true }, config: { needs: 'viewer' } }, () => app.swagger())
  })
  if (deps.pageDir !== null) servePage(app, deps.pageDir)
  return app
}
