/** Contradictions and risks of the daemon's own part, and between sites. */
import type { SignalDecode, SiteSettings } from '../model/settings.js'
import { UPLINK, uplinkTopic } from '../model/uplink.js'
import type { DaemonDraft } from './build-daemon.js'
import { error, type Issue, type Path, shown, warning } from './finding.js'

/** Whether an address to listen on, or a host to reach, is this machine alone. */
export function isLoopback(host: string): boolean {
  const name = host
    .toLowerCase()
    .replace(/^\[|\]$/g, '')
    .replace(/\.$/, '')
  return name === 'localhost' || name.endsWith('.localhost') || name === '::1' || /^127(?:\.\d{1,3}){3}$/.test(name)
}

export function checkDaemon(draft: DaemonDraft): Issue[] {
  return [...checkBroker(draft), ...checkPage(draft), ...checkPorts(draft), ...checkOutward(draft)]
}

function checkBroker({ broker }: DaemonDraft): Issue[] {
  if (broker === undefined) return []
  if (broker.kind === 'external') return plainUrl(broker.url, ['broker', 'external', 'url'])
  if (isLoopback(broker.host)) return []
  const issues: Issue[] = []
  const path = ['broker', 'embedded']
  if (broker.anonymous) {
    const words = { found: `true with host ${broker.host}`, expected: 'false, and an account for each board' }
    issues.push(error([...path, 'anonymous'], 'would let anyone on the network send readings', words))
  }
  if (broker.tls === null) {
    const words = { found: broker.host, expected: 'tls: { key_file, cert_file }, or host 127.0.0.1' }
    issues.push(warning([...path, 'host'], 'is open to the network without TLS: passwords can be read', words))
  } else if (broker.tls.port !== null) {
    const words = { found: String(broker.tls.port), expected: 'no second port: then the one port speaks TLS' }
    const message = `leaves port ${broker.port} open to the network without TLS`
    issues.push(warning([...path, 'tls', 'port'], message, words))
  }
  return issues
}

function checkPage({ page }: DaemonDraft): Issue[] {
  if (page === undefined || page.tls !== null || isLoopback(page.host)) return []
  const words = { found: page.host, expected: 'tls: { key_file, cert_file }, or host 127.0.0.1' }
  return [warning(['page', 'host'], 'is open to the network without TLS: passwords can be read', words)]
}

function checkPorts({ page, broker }: DaemonDraft): Issue[] {
  if (page === undefined || broker === undefined || broker.kind === 'external') return []
  const taken = new Map<number, string>()
  const issues: Issue[] = []
  const take = (port: number | null | undefined, path: readonly string[]): void => {
    if (port === null || port === undefined) return
    const other = taken.get(port)
    if (other !== undefined) issues.push(error(path, `is the port of ${other} too`, { found: String(port) }))
    taken.set(port, path.join('.'))
  }
  take(broker.port, ['broker', 'embedded', 'port'])
  take(broker.tls?.port, ['broker', 'embedded', 'tls', 'port'])
  take(page.port, ['page', 'port'])
  return issues
}

function checkOutward({ uplink, beat }: DaemonDraft): Issue[] {
  const up = uplink == null ? [] : plainUrl(uplink.url, ['uplink', 'url'])
  const out = beat == null ? [] : plainUrl(beat.url, ['beat', 'url'])
  return [...up, ...out]
}

/** An address that leaves this machine unencrypted. */
export function plainUrl(url: string, path: Path): Issue[] {
  const { protocol, hostname } = new URL(url)
  if (!['mqtt:', 'ws:', 'http:'].includes(protocol) || isLoopback(hostname)) return []
  const words = { found: `${protocol}//${hostname}`, expected: `${protocol.slice(0, -1)}s://…` }
  return [warning(path, 'leaves this machine without TLS', words)]
}

/** A site, and how to word an issue about it in the file it came from. */
export type LoadedSite = { readonly site: SiteSettings; readonly report: (issue: Issue) => void }

/** Who reads a topic: `own` is a board's own topic, else only some mapped signals of it stand there. */
type Claim = { readonly site: string; readonly board: string; readonly own: boolean }

/** Sites of one daemon must not share an id, and a topic must mean one board. */
export function checkSites(sites: readonly LoadedSite[]): void {
  const ids = new Set<string>()
  const claims = new Map<string, Claim>()
  for (const { site, report } of sites) {
    if (ids.has(site.id)) {
      report(
        error(['site', 'id'], 'is the id of another site too', { found: shown(site.id), expected: 'each id once' }),
      )
      continue
    }
    ids.add(site.id)
    for (const issue of [...claimIssues(site, claims), ...formIssues(site)]) report(issue)
  }
}

/** One gateway may carry mapped signals of several boards of a site; anything else that shares a topic is a slip. */
function claimIssues(site: SiteSettings, claims: Map<string, Claim>): Issue[] {
  const issues: Issue[] = []
  const claim = (topic: string, mine: Claim, path: Path): void => {
    const other = claims.get(topic)
    if (other === undefined) {
      claims.set(topic, mine)
      return
    }
    const sameBoard = other.site === mine.site && other.board === mine.board
    const gateway = other.site === mine.site && !other.own && !mine.own
    if (sameBoard || gateway) return
    const message = `is a topic of board ${other.board} of site ${other.site} too`
    issues.push(error(path, message, { found: shown(topic), expected: 'each topic for one board' }))
  }
  claim(uplinkTopic(site.id), { site: site.id, board: UPLINK, own: true }, ['site', 'id'])
  for (const board of site.boards) {
    const mine = { site: site.id, board: board.id === UPLINK ? '' : board.id }
    claim(board.topic, { ...mine, own: true }, ['boards', board.id, 'topic'])
    for (const signal of board.signals) {
      if (signal.topic === null) continue
      claim(signal.topic, { ...mine, own: false }, ['boards', board.id, 'signals', signal.key, 'topic'])
    }
  }
  return issues
}

/** A payload that is one number is one signal; JSON and SenML on one topic are each refused as the other. */
function formIssues(site: SiteSettings): Issue[] {
  const issues: Issue[] = []
  const forms = new Map<string, SignalDecode>()
  for (const board of site.boards) {
    for (const signal of board.signals) {
      const topic = signal.topic ?? board.topic
      const before = forms.get(topic)
      forms.set(topic, signal.decode)
      if (before === undefined || (before === signal.decode && before !== 'number')) continue
      const path = ['boards', board.id, 'signals', signal.key]
      const found = `decode: ${signal.decode} beside decode: ${before}, topic ${shown(topic)}`
      const expected = 'a topic of its own'
      if (before === 'number' || signal.decode === 'number') {
        issues.push(error(path, 'shares the topic of another signal, whose payload is one number', { found, expected }))
      } else {
        issues.push(warning(path, 'shares a topic with signals of another form', { found, expected }))
      }
    }
  }
  return issues
}
