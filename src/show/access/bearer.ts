/** Bearer tokens (RFC 6750) for scripts: made by an owner, ended by a date or by being revoked, no password of anybody. */
import type { ShowSource } from '../source.js'
import type { Person } from './sessions.js'

/** The token of an Authorization header (RFC 6750, section 2.1); null where the header is of another kind. */
export function parseBearer(header: string | undefined): string | null {
  return /^bearer +([A-Za-z0-9._~+/-]+=*)$/i.exec(header ?? '')?.[1] ?? null
}

/** Who acts is the token by its own name, so that the journal tells a script from a person. */
export function personByToken(source: Pick<ShowSource, 'byToken'>, text: string): Person | null {
  const token = source.byToken(text)
  return token === null ? null : { name: `token ${token.name}`, role: token.role, token: true }
}
