/** The one form in which the API says that something is wrong, and the one place that makes it. */
import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify'
import { hasZodFastifySchemaValidationErrors } from 'fastify-type-provider-zod'
import { z } from 'zod'
import type { PageRefusal } from './source.js'

export const ErrorBody = z
  .object({
    error: z.string().describe('What is wrong, as a sentence'),
    field: z.string().nullable().describe('Which word of the request is wrong, where one is'),
    expected: z.string().nullable().describe('What would have been right'),
  })
  .meta({ id: 'Error' })
export type ErrorBody = z.infer<typeof ErrorBody>

/** Answers that a route's documentation lists beside its own. */
export const COMMON_ERRORS = { 400: ErrorBody, 401: ErrorBody, 403: ErrorBody, 404: ErrorBody, 429: ErrorBody } as const

/** An answer other than 200, thrown by a route. */
export class ApiError extends Error {
  readonly statusCode: number
  readonly field: string | null
  readonly expected: string | null

  constructor(statusCode: number, message: string, field: string | null = null, expected: string | null = null) {
    super(message)
    this.name = 'ApiError'
    this.statusCode = statusCode
    this.field = field
    this.expected = expected
  }
}

type Issue = { readonly instancePath: string; readonly message?: string; readonly params?: Record<string, unknown> }

function fieldOf(issue: Issue): string | null {
  const path = issue.instancePath.replace(/^\//, '').replaceAll('/', '.')
  if (path !== '') return path
  const keys = issue.params?.keys
  return Array.isArray(keys) && typeof keys[0] === 'string' ? keys[0] : null
}

function bodyOf(error: FastifyError | ApiError): { status: number; body: ErrorBody } {
  if (error instanceof ApiError) {
    return { status: error.statusCode, body: { error: error.message, field: error.field, expected: error.expected } }
  }
  if (hasZodFastifySchemaValidationErrors(error)) {
    const first = error.validation[0]
    const field = first === undefined ? null : fieldOf(first)
    const what = first?.message ?? 'not understood'
    const message = field === null ? `The request is wrong: ${what}` : `"${field}" is wrong: ${what}`
    return { status: 400, body: { error: message, field, expected: what } }
  }
  const status = error.statusCode ?? 500
  if (status === 429)
    return { status, body: { error: 'Too many tries; wait a few minutes', field: null, expected: null } }
  if (status >= 400 && status < 500) return { status, body: { error: error.message, field: null, expected: null } }
  return { status: 500, body: { error: 'Something went wrong inside; the log says what', field: null, expected: null } }
}

/** Whoever merely has no session yet tries nothing; whoever gives a name and a secret does. */
function isAttempt(status: number, request: FastifyRequest): boolean {
  if (status === 401) return request.headers.authorization !== undefined || request.method !== 'GET'
  return status === 403 || status === 413 || status === 429
}

/** Makes the error handler; what is not the asker's fault goes to `onError` and is not shown. */
export function errorHandler(
  onError: (error: unknown, route: string) => void,
  onRefused: (refusal: PageRefusal) => void = () => {},
) {
  return (error: FastifyError, request: FastifyRequest, reply: FastifyReply): void => {
    const { status, body } = bodyOf(error)
    const route = `${request.method} ${request.routeOptions.url ?? '?'}`
    if (status >= 500) onError(error, route)
    else if (isAttempt(status, request)) onRefused({ status, route, from: request.ip, why: body.error })
    void reply.code(status).type('application/json; charset=utf-8').send(body)
  }
}
