/** Contradictions and risks of the daemon's own part, and between sites. */
import type { SiteSettings } from '../model/settings.js'
import type { DaemonDraft } from './build-daemon.js'
import { error, type Issue, shown, warning } from './finding.js'

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
  take(page.tls?.port, ['page', 'tls', 'port'])
  return issues
}

function checkOutward({ uplink, beat }: DaemonDraft): Issue[] {
  const up = uplink == null ? [] : plainUrl(uplink.url, ['uplink', 'url'])
  const out = beat == null ? [] : plainUrl(beat.url, ['beat', 'url'])
  return [...up, ...out]
}

/** An address that leaves this machine unencrypted. */
export function plainUrl(url: string, path: readonly (string | number)[]): Issue[] {
  const { protocol, hostname } = new URL(url)
  if (!['mqtt:', 'ws:', 'http:'].includes(protocol) || isLoopback(hostname)) return []
  const words = { found: shown(url), expected: `${protocol.slice(0, -1)}s://…` }
  return [warning(path, 'leaves this machine without TLS', words)]
}

/** A site, and how to word an issue about it in the file it came from. */
export type LoadedSite = { readonly site: SiteSettings; readonly report: (issue: Issue) => void }

/** Sites of one daemon must not share an id, and a topic must mean one board. */
export function checkSites(sites: readonly LoadedSite[]): void {
  const ids = new Set<string>()
  const topics = new Map<string, string>()
  for (const { site, report } of sites) {
    if (ids.has(site.id)) {
      report(
        error(['site', 'id'], 'is the id of another site too', { found: shown(site.id), expected: 'each id once' }),
      )
      continue
    }
    ids.add(site.id)
    for (const issue of topicIssues(site, topics)) report(issue)
  }
}

function topicIssues(site: SiteSettings, topics: Map<string, string>): Issue[] {
  const issues: Issue[] = []
  const forms = new Map<string, string>()
  for (const board of site.boards) {
    const owner = `board ${board.id} of site ${site.id}`
    const claim = (topic: string, path: readonly string[]): void => {
      const other = topics.get(topic)
      if (other === undefined || other === owner) topics.set(topic, owner)
      else {
        const expected = 'each topic for one board; signals of one topic belong to one board'
        issues.push(error(path, `is a topic of ${other} too`, { found: shown(topic), expected }))
      }
    }
    claim(board.topic, ['boards', board.id, 'topic'])
    for (const signal of board.signals) {
      const path = ['boards', board.id, 'signals', signal.key, ...(signal.topic === null ? [] : ['topic'])]
      if (signal.topic !== null) claim(signal.topic, path)
      const topic = signal.topic ?? board.topic
      const before = forms.get(topic)
      if (before !== undefined && (before !== signal.decode || signal.decode === 'number')) {
        const found = `decode: ${signal.decode}, beside decode: ${before}`
        const expected = 'one form for each topic, and one signal where the payload is one number'
        issues.push(
          error(path, `is read from a topic that another signal reads`, {
            found: `${shown(topic)}, ${found}`,
            expected,
          }),
        )
      }
      forms.set(topic, signal.decode)
    }
  }
  return issues
}
