/** Reads a file section by section, so that a fault in one does not hide the faults of the others. */
import type { z } from 'zod'
import type { ConfigDocument } from './document.js'
import { error, type Issue } from './finding.js'
import { toIssues, unknownKey } from './issues.js'

export type SectionResult = { readonly sections: Record<string, unknown>; readonly issues: readonly Issue[] }

/**
 * @param document the file
 * @param schemas the sections that this file may have
 * @param elsewhere sections that belong into another file, and into which
 * @returns the sections that could be read (defaults filled in) and everything that is wrong with the others
 */
export function readSections(
  document: ConfigDocument,
  schemas: Readonly<Record<string, z.ZodType>>,
  elsewhere: Readonly<Record<string, string>> = {},
): SectionResult {
  const issues: Issue[] = []
  const sections: Record<string, unknown> = {}
  for (const key of Object.keys(document.tree)) {
    if (Object.hasOwn(schemas, key)) continue
    const home = Object.hasOwn(elsewhere, key) ? elsewhere[key] : undefined
    if (home === undefined) issues.push(unknownKey(key, Object.keys(schemas), []))
    else issues.push(error([key], 'does not belong in this file', { found: `"${key}"`, expected: home, at: 'key' }))
  }
  for (const [name, schema] of Object.entries(schemas)) {
    const input = document.tree[name]
    const result = schema.safeParse(input)
    if (result.success) sections[name] = result.data
    else issues.push(...toIssues(result.error.issues, input, [name]))
  }
  return { sections, issues }
}
