/** Tokens of scripts, and the journal that says who made and revoked them. */
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { ShowSource } from '../show/source.js'

type TokenDesk = Pick<ShowSource, 'byToken' | 'tokens' | 'makeToken' | 'revokeToken'>

/** What the journal says of a token that was made. */
export function tokenMade(name: string, role: string, until: Ms | null): string {
  const end = until === null ? 'until it is revoked' : `until ${new Date(until).toISOString()}`
  return `Token "${name}" made for a script (${role}, ${end})`
}

export function createTokenDesk(store: Store, now: () => Ms): TokenDesk {
  return {
    byToken: (text) => store.tokens.verify(text, now()),
    tokens: () => store.tokens.list(),
    makeToken(site, { name, role, until }, by) {
      const at = now()
      const there = store.tokens.list()
      if (there.some((one) => one.name === name)) return 'taken'
      if (there.length >= LIMITS.tokensMax) return 'full'
      return store.transaction(() => {
        const text = store.tokens.make({ name, role, until, madeBy: by }, at)
        store.journal.add({ site, at, by, text: tokenMade(name, role, until), newBaseline: false })
        return { text, token: { name, role, until, madeBy: by, madeAt: at, usedAt: null } }
      })
    },
    revokeToken: (site, name, by) =>
      store.transaction(() => {
        if (!store.tokens.revoke(name)) return false
        store.journal.add({ site, at: now(), by, text: `Token "${name}" revoked`, newBaseline: false })
        return true
      }),
  }
}
