import type { SiteSettings } from '../model/settings.js'
import { UPLINK, uplinkTopic } from '../model/uplink.js'

/** Who may publish and subscribe to what. Boards publish to their own topics; people read; nobody else does anything. */

export type Role = 'owner' | 'viewer' | 'board'

/** An account as `verify` gives it. Without a site it stands for every site of the daemon. */
export type Account = { readonly name: string; readonly role: Role; readonly site?: string | null }

/** A board's account has the board's id as its name, or `site-board` where several sites have a board of that name. */
export type BoardRule = {
  readonly site: string
  readonly board: string
  /** The topics that it publishes to: its own, and those of its mapped signals. */
  readonly topics: readonly string[]
}

export type Rights = {
  /** The very topics that may be published to. */
  readonly publish: ReadonlySet<string>
  /** Filters; whatever one of them covers may be subscribed to. */
  readonly subscribe: readonly string[]
}

export const NO_RIGHTS: Rights = { publish: new Set(), subscribe: [] }

/** The rules of every board of every site, and of the daemon at the place that may send its readings up. */
export function boardRules(sites: readonly SiteSettings[]): BoardRule[] {
  return sites.flatMap((site) => [
    ...site.boards.map((board) => ({
      site: site.id,
      board: board.id,
      topics: [...new Set([board.topic, ...board.signals.flatMap((signal) => signal.topic ?? [])])],
    })),
    { site: site.id, board: UPLINK, topics: [uplinkTopic(site.id)] },
  ])
}

/**
 * What an account may do. A board account must stand for one board alone, or it may do nothing: two sites may each have
 * a `tank-board`, whose accounts are then `juniper-tank-board` and `fern-tank-board`.
 */
export function rightsOf(account: Account, boards: readonly BoardRule[]): Rights {
  const site = account.site ?? null
  const ofSite = site === null ? boards : boards.filter((rule) => rule.site === site)
  if (account.role === 'board') {
    const own = ofSite.filter((rule) => account.name === rule.board || account.name === `${rule.site}-${rule.board}`)
    const [rule] = own
    if (rule === undefined || own.length > 1) return NO_RIGHTS
    return { publish: new Set(rule.topics), subscribe: rule.topics.map(treeOf) }
  }
  const trees = ofSite.flatMap((rule) => rule.topics.map(treeOf))
  return { publish: new Set(), subscribe: [site === null ? 'water/#' : `water/${site}/#`, ...trees] }
}

/** A client without a name, which only a loopback listener takes: it may stand in for any board, and read nothing. */
export function anonymousRights(boards: readonly BoardRule[]): Rights {
  return { publish: new Set(boards.flatMap((rule) => rule.topics)), subscribe: [] }
}

export function maySubscribe(rights: Rights, filter: string): boolean {
  return rights.subscribe.some((pattern) => covers(pattern, filter))
}

function treeOf(topic: string): string {
  return `${topic}/#`
}

/**
 * Whether every topic that `filter` matches is matched by `pattern` too (topic filters of MQTT 3.1.1, section 4.7:
 * `+` is one level, `#` is the level before it and all below).
 */
export function covers(pattern: string, filter: string): boolean {
  const wide = pattern.split('/')
  const narrow = filter.split('/')
  for (let i = 0; i < wide.length; i++) {
    const level = wide[i]
    // Wildcards at the first level do not reach topics that begin with $ (4.7.2).
    if (level === '#') return i > 0 || !filter.startsWith('$')
    const other = narrow[i]
    if (other === undefined || other === '#') return false
    if (level === '+') {
      if (i === 0 && filter.startsWith('$')) return false
    } else if (level !== other) return false
  }
  return narrow.length === wide.length
}

/** Whether a host name or address is this machine's own loopback (127.0.0.0/8 of RFC 1122, ::1 of RFC 4291). */
export function isLoopback(host: string): boolean {
  const bare = host.replace(/^::ffff:/i, '')
  return bare === 'localhost' || bare === '::1' || /^127(?:\.\d{1,3}){3}$/.test(bare)
}
