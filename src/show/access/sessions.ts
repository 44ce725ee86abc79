/** Sessions of people, in memory: a restart asks everybody to sign in again. */
import { LIMITS } from '../../model/limits.js'
import type { Ms } from '../../model/time.js'
import type { PersonRole } from '../source.js'

export type Person = {
  readonly name: string
  readonly role: PersonRole
  /** A script with a token, no person. */
  readonly token?: true
}

type Session = { readonly name: string; readonly begun: Ms; seen: Ms }

export type Sessions = {
  /** Begins a session and returns its unguessable id. */
  readonly begin: (name: string, now: Ms) => string
  /** The name behind an id, or null when it is unknown, idle for too long, or too old. */
  readonly find: (id: string, now: Ms) => string | null
  readonly end: (id: string) => void
  readonly size: () => number
}

/**
 * A bounded table of sessions. Ids are 32 random bytes in hex; when the table is full the session that was begun or
 * seen longest ago goes.
 */
export function createSessions(randomBytes: (count: number) => Uint8Array): Sessions {
  const table = new Map<string, Session>()

  function spent(session: Session, now: Ms): boolean {
    return now - session.seen > LIMITS.sessionIdleMaxMs || now - session.begun > LIMITS.sessionAgeMaxMs
  }

  return {
    begin(name, now) {
      for (const [id, session] of table) if (spent(session, now)) table.delete(id)
      while (table.size >= LIMITS.sessionsMax) {
        const oldest = table.keys().next()
        if (oldest.done === true) break
        table.delete(oldest.value)
      }
      const id = Buffer.from(randomBytes(32)).toString('hex')
      table.set(id, { name, begun: now, seen: now })
      return id
    },
    find(id, now) {
      const session = table.get(id)
      if (session === undefined) return null
      table.delete(id)
      if (spent(session, now)) return null
      session.seen = now
      // Taken out and put back so that the map's order is the order of last use.
      table.set(id, session)
      return session.name
    },
    end(id) {
      table.delete(id)
    },
    size: () => table.size,
  }
}
