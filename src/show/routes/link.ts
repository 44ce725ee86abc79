/**
 * The acknowledging link of a message. GET only shows a button, so that a mail scanner that follows links changes
 * nothing; POST acts and is harmless twice. The signed token is the permission: no session is needed.
 */
import type { FastifyPluginAsync } from 'fastify'
import { LIMITS } from '../../model/limits.js'
import type { AppDeps, LinkTarget } from '../source.js'

/** Text for an HTML document. */
export function escapeHtml(text: string): string {
  return text
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;')
}

function page(title: string, body: string): string {
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex"><title>${escapeHtml(title)}</title><link rel="icon" href="/mark.svg"><link rel="stylesheet" href="/plain.css"></head>
<body><main>${body}</main></body></html>
`
}

function ask(target: LinkTarget): string {
  const name = escapeHtml(target.siteName)
  const title = escapeHtml(target.title)
  if (target.settled)
    return page('Nothing left to do', `<h1>${name}</h1><p>${title}</p><p>Nothing is left to acknowledge.</p>`)
  return page(
    'Acknowledge',
    `<h1>${name}</h1><p>${title}</p><form method="post"><button type="submit">I have seen it</button></form>
<p>Nobody else is called on then. It does not mend anything, and the alarm stays until its cause is gone.</p>`,
  )
}

function thanks(target: LinkTarget): string {
  const what = `${escapeHtml(target.siteName)}: ${escapeHtml(target.title)}`
  return page('Acknowledged', `<h1>Acknowledged</h1><p>${what}</p><p><a href="/">To the page of the site</a></p>`)
}

const GONE = page(
  'Link not valid',
  '<h1>This link is not valid any more</h1><p>Links in messages work for 7 days. <a href="/">Open the page</a> to acknowledge there.</p>',
)

export function linkRoutes({ source }: AppDeps): FastifyPluginAsync {
  return async (app) => {
    app.addContentTypeParser('application/x-www-form-urlencoded', { parseAs: 'string' }, (_request, _body, done) =>
      done(null, {}),
    )
    // Guessing is hopeless against the signature; the limit keeps it cheap too.
    const config = { rateLimit: { max: 6 * LIMITS.loginTriesMax, timeWindow: LIMITS.loginWindowMs } }

    async function answer(
      act: (token: string) => LinkTarget | null,
      words: (target: LinkTarget) => string,
      token: string,
    ) {
      const target = token.length > LIMITS.acknowledgeTokenCharsMax ? null : act(token)
      return target === null ? { status: 404, html: GONE } : { status: 200, html: words(target) }
    }

    app.get<{ Params: { token: string } }>(
      '/ack/:token',
      { config, schema: { hide: true } },
      async (request, reply) => {
        const { status, html } = await answer(source.readLink, ask, request.params.token)
        return reply.code(status).header('cache-control', 'no-store').type('text/html; charset=utf-8').send(html)
      },
    )
    app.post<{ Params: { token: string } }>(
      '/ack/:token',
      { config, schema: { hide: true } },
      async (request, reply) => {
        const { status, html } = await answer(source.useLink, thanks, request.params.token)
        return reply.code(status).header('cache-control', 'no-store').type('text/html; charset=utf-8').send(html)
      },
    )
  }
}
