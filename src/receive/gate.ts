import { timingSafeEqual } from 'node:crypto'
import { LIMITS } from '../model/limits.js'
import { MINUTE, type Ms } from '../model/time.js'
import { type Log, type RefusedReason, wordsOf } from './receiver.js'
import { type Account, anonymousRights, type BoardRule, isLoopback, NO_RIGHTS, type Rights, rightsOf } from './rules.js'

/** Who comes in: name and password checked, tries limited, rights looked up. */

export type Marks = () => ReadonlyMap<string, string>
export type Verify = (name: string, password: string) => Promise<Account | null>

export type Admitted = {
  readonly who: string
  readonly probe: boolean
  readonly rights: Rights
  /** The account as it was when its secret was found right; absent: no account. */
  readonly account?: { readonly name: string; readonly mark: string | null }
}
/**
 * `code` as MQTT 3.1.1, table 3.1 has it: 2 identifier rejected, 3 server unavailable, 4 bad user name or password,
 * 5 not authorized.
 */
export type TurnedAway = { readonly reason: RefusedReason; readonly what: string; readonly code: 2 | 3 | 4 | 5 }

export type GateOptions = {
  readonly boards: readonly BoardRule[]
  readonly verify: Verify
  /** Whether clients without a name are taken, from loopback addresses. */
  readonly anonymous: boolean
  /** The program's own client: by this name and secret. */
  readonly probe: { readonly name: string; readonly secret: Buffer }
  /** Marks of all accounts, by name (`Accounts.marks`); absent: accounts do not change while we run. */
  readonly marks?: Marks
  readonly now: () => Ms
  readonly log: Log
}

export type Gate = (name: string | null, password: Buffer, remote: string) => Promise<Admitted | TurnedAway>

export function createGate(options: GateOptions): Gate {
  const { boards, probe, now } = options
  const tries = createTries(now)
  const inTurn = createTurns()
  const anonymous: Admitted = { who: 'anonymous', probe: false, rights: anonymousRights(boards) }

  return async (name, password, remote) => {
    if (name === null)
      return options.anonymous && isLoopback(remote)
        ? anonymous
        : { reason: 'account', what: 'no name given; expected an account', code: 5 }
    if (name === probe.name)
      return sameBytes(password, probe.secret)
        ? { who: name, probe: true, rights: NO_RIGHTS }
        : { reason: 'account', what: 'not the program itself', code: 4 }
    const key = `${remote} ${name}`
    if (tries.tooMany(key)) return { reason: 'too-many-tries', what: 'wait a minute', code: 3 }
    const turn = inTurn(() => options.verify(name, password.toString('utf8')))
    if (turn === null) return { reason: 'too-many-connections', what: 'too many passwords to check', code: 3 }
    try {
      const account = await turn
      if (account !== null) {
        const mark = options.marks?.().get(account.name) ?? null
        return {
          who: whoOf(account),
          probe: false,
          rights: rightsOf(account, boards),
          account: { name: account.name, mark },
        }
      }
      tries.failed(key)
      return { reason: 'account', what: 'no such account, or a wrong password', code: 4 }
    } catch (error) {
      options.log.error({ name, error: wordsOf(error) }, 'an account could not be checked')
      return { reason: 'account', what: 'the account could not be checked', code: 3 }
    }
  }
}

function whoOf(account: Account): string {
  return account.site === undefined || account.site === null ? account.name : `${account.site}/${account.name}`
}

function sameBytes(a: Buffer, b: Buffer): boolean {
  return a.length === b.length && timingSafeEqual(a, b)
}

/** Wrong passwords of a name from an address, within a minute. Bounded: the oldest are forgotten first. */
function createTries(now: () => Ms): { tooMany(key: string): boolean; failed(key: string): void } {
  const since = new Map<string, { at: Ms; count: number }>()
  const recent = (key: string): { at: Ms; count: number } | null => {
    const entry = since.get(key)
    const age = entry === undefined ? null : now() - entry.at
    return entry !== undefined && age !== null && age >= 0 && age < MINUTE ? entry : null
  }
  return {
    tooMany: (key) => (recent(key)?.count ?? 0) >= LIMITS.loginTriesMax,
    failed(key) {
      const entry = recent(key)
      if (entry !== null) {
        entry.count++
        return
      }
      since.delete(key)
      since.set(key, { at: now(), count: 1 })
      const [oldest] = since.keys()
      if (since.size > LIMITS.connectionsMax && oldest !== undefined) since.delete(oldest)
    },
  }
}

/** Runs a bounded number of checks at once, the others in turn; null when too many wait already. */
function createTurns(): <T>(act: () => Promise<T>) => Promise<T> | null {
  let running = 0
  const waiting: (() => void)[] = []
  return <T>(act: () => Promise<T>) => {
    if (waiting.length >= LIMITS.verifyWaitingMax) return null
    const run = async (): Promise<T> => {
      if (running >= LIMITS.verifyAtOnceMax) await new Promise<void>((go) => waiting.push(go))
      else running++
      try {
        return await act()
      } finally {
        // The place goes to the next in line, so that a newcomer cannot slip in between.
        const next = waiting.shift()
        if (next === undefined) running--
        else next()
      }
    }
    return run()
  }
}
