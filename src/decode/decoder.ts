import { LIMITS } from '../model/limits.js'
import type { Arrival, Decoded } from '../model/sample.js'
import type { SiteSettings } from '../model/settings.js'
import { type Findings, newFindings, refuse } from './findings.js'
import { jsonOf, textOf } from './json-text.js'
import { type Mapping, decodeMapped, mappingOf } from './mapped.js'
import { type NameTable, nameTable } from './names.js'
import { decodePack } from './native.js'
import { Repeats } from './repeats.js'
import { type Target, targetOf } from './target.js'

export type Decoder = {
  /**
   * What one message holds, per board that it concerns: usually one entry. Never throws, whatever the payload; a
   * message on a topic that no board has is refused as `unknown-name` with board '' under the site its topic names,
   * and gives nothing where no site can be told.
   */
  decode(arrival: Arrival): readonly Decoded[]
  /** Every topic to subscribe to, without repeats. */
  topics(): readonly string[]
}

/** What one topic means to one board. */
type Route = {
  readonly site: string
  readonly board: string
  /** Null where no signal is expected as SenML here. */
  readonly names: NameTable | null
  readonly mappings: readonly Mapping[]
  readonly repeats: Repeats
}

/**
 * Makes the decoder of a set of sites. Pure: time comes with each arrival.
 *
 * @throws Error when a signal's unit or pointer cannot be used (the configuration is checked earlier; this is the
 *   last line)
 */
export function createDecoder(sites: readonly SiteSettings[]): Decoder {
  const routes = new Map<string, Route[]>()
  for (const site of sites) {
    for (const route of routesOf(site)) {
      const there = routes.get(route.topic)
      if (there === undefined) routes.set(route.topic, [route])
      else there.push(route)
    }
  }
  return {
    topics: () => [...routes.keys()],
    decode(arrival) {
      const there = routes.get(arrival.topic)
      if (there === undefined) return stranger(sites, arrival)
      return decodeFor(there, arrival)
    },
  }
}

function routesOf(site: SiteSettings): readonly (Route & { readonly topic: string })[] {
  return site.boards.flatMap((board) => {
    const byTopic = new Map<string, Target[]>([[board.topic, []]])
    for (const signal of board.signals) {
      const topic = signal.topic ?? board.topic
      const targets = byTopic.get(topic)
      if (targets === undefined) byTopic.set(topic, [targetOf(signal)])
      else targets.push(targetOf(signal))
    }
    return [...byTopic]
      .filter(([topic, targets]) => targets.length > 0 || topic === board.topic)
      .map(([topic, targets]) => {
        const native = targets.filter((target) => target.signal.decode === 'senml')
        const mappings = targets.filter((target) => target.signal.decode !== 'senml').map(mappingOf)
        // A board's own topic without any signal is still listened to: what it says is then an unknown name.
        const names = native.length > 0 || mappings.length === 0 ? nameTable(native) : null
        return { topic, site: site.id, board: board.id, names, mappings, repeats: new Repeats() }
      })
  })
}

function decodeFor(routes: readonly Route[], arrival: Arrival): readonly Decoded[] {
  if (arrival.payload.length > LIMITS.payloadBytesMax) {
    const what = `${arrival.payload.length} bytes, at most ${LIMITS.payloadBytesMax} are read`
    return routes.map((route) => refusedWhole(route, arrival, 'too-large', what))
  }
  // Nearly every message: one board, saying what it always says with other numbers.
  const [only] = routes
  if (only !== undefined && routes.length === 1 && only.names !== null && !arrival.retain) {
    const findings = newFindings(only.site, only.board)
    if (only.repeats.decode(arrival, findings)) return [findings]
  }
  return decodeText(routes, arrival)
}

function decodeText(routes: readonly Route[], arrival: Arrival): readonly Decoded[] {
  const text = textOf(arrival.payload)
  if (text === null) return routes.map((route) => refusedWhole(route, arrival, 'not-senml', 'not UTF-8'))
  let document: unknown
  let parsed = false
  const decoded: Decoded[] = []
  for (const route of routes) {
    if (!parsed && (route.names !== null || route.mappings.some((mapping) => mapping.pointer !== null))) {
      document = jsonOf(text)
      parsed = true
    }
    decoded.push(decodeRoute(route, document, text, arrival))
  }
  return decoded
}

function decodeRoute(route: Route, document: unknown, text: string, arrival: Arrival): Findings {
  const findings = newFindings(route.site, route.board)
  // A board may send both forms on one topic: an array is a pack, anything else is for the mapped signals.
  const pack = route.names !== null && (route.mappings.length === 0 || Array.isArray(document))
  if (pack && route.names !== null) {
    decodePack(route.names, document, text, arrival, findings)
    if (!arrival.retain) route.repeats.learn(arrival, document, route.names, findings)
  } else decodeMapped(route.mappings, document, text, arrival, findings)
  return findings
}

function refusedWhole(
  route: { readonly site: string; readonly board: string },
  arrival: Arrival,
  reason: 'too-large' | 'not-senml' | 'unknown-name',
  what: string,
): Findings {
  const findings = newFindings(route.site, route.board)
  refuse(findings, arrival, reason, arrival.topic.slice(0, LIMITS.topicBytesMax), what)
  return findings
}

/** A topic that no board has: shown under the site that its words name, or the only site there is. */
function stranger(sites: readonly SiteSettings[], arrival: Arrival): readonly Decoded[] {
  if (arrival.topic.startsWith('$')) return []
  const words = arrival.topic.slice(0, LIMITS.topicBytesMax).split('/')
  const named = sites.find((site) => words.includes(site.id))
  const site = named ?? (sites.length === 1 ? sites[0] : undefined)
  if (site === undefined) return []
  return [refusedWhole({ site: site.id, board: '' }, arrival, 'unknown-name', 'no board has this topic')]
}
