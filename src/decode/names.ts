import { isSenmlName } from './senml.js'
import type { Target } from './target.js'

/** Which signal a resolved SenML name means. */
export type NameTable = { find(name: string): Target | 'unknown' | 'not-a-name' }

/** Names remembered per board, so that a board which invents names cannot fill the memory. */
const REMEMBERED_MAX = 1_000
const NAME_CHARS_MAX = 256

/**
 * The names of one board's signals.
 *
 * A resolved name (bn + n) means a signal when it equals the signal's `name`, or when it ends in it after a `:` or
 * `/`: `level`, `tank-board:level`, `urn:dev:mac:0024befffe804ff1:level` and `2001:db8::2/level` all mean `level`.
 * Where several signals fit, the longest name wins; so two devices behind one board are told apart by configuring
 * their whole names.
 */
export function nameTable(targets: readonly Target[]): NameTable {
  const byName = new Map<string, Target>()
  for (const target of targets) if (!byName.has(target.signal.name)) byName.set(target.signal.name, target)
  const remembered = new Map<string, Target | 'unknown' | 'not-a-name'>()

  const lookUp = (name: string): Target | 'unknown' | 'not-a-name' => {
    if (!isSenmlName(name)) return 'not-a-name'
    if (name.length > NAME_CHARS_MAX) return 'unknown'
    let from = 0
    while (from < name.length) {
      const target = byName.get(name.slice(from))
      if (target !== undefined) return target
      const separator = name.slice(from).search(/[:/]/)
      if (separator < 0) return 'unknown'
      from += separator + 1
    }
    return 'unknown'
  }

  return {
    find(name) {
      const known = remembered.get(name)
      if (known !== undefined) return known
      const found = lookUp(name)
      if (remembered.size < REMEMBERED_MAX && name.length <= NAME_CHARS_MAX) remembered.set(name, found)
      return found
    },
  }
}
