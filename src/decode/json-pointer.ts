/** JSON Pointer, RFC 6901: the path from the root of a document to one value in it. */

/** The reference tokens of a pointer, unescaped; the empty list means the whole document. */
export type Pointer = readonly string[]

/**
 * Reads a pointer (RFC 6901 sections 3 and 4).
 *
 * @returns the tokens, or null when the text is no pointer: not empty and not starting with `/`, or a `~` that is
 *   followed by neither 0 nor 1
 */
export function parsePointer(text: string): Pointer | null {
  if (text === '') return []
  if (!text.startsWith('/') || /~(?![01])/.test(text)) return null
  // ~1 before ~0, or "~01" would become "/" instead of "~1" (section 4).
  return text
    .slice(1)
    .split('/')
    .map((token) => token.replaceAll('~1', '/').replaceAll('~0', '~'))
}

/** An array index: digits without leading zeros. `-` means the element after the last, which is never there. */
const INDEX = /^(?:0|[1-9]\d*)$/

/** Follows a pointer through a parsed document; undefined when there is nothing at its end. */
export function follow(document: unknown, pointer: Pointer): unknown {
  let here = document
  for (const token of pointer) {
    if (typeof here !== 'object' || here === null) return undefined
    if (Array.isArray(here)) {
      if (!INDEX.test(token)) return undefined
      here = here[Number(token)]
    } else {
      // Own members only: "/constructor" or "/__proto__" must not reach the language's own objects.
      if (!Object.hasOwn(here, token)) return undefined
      here = (here as Readonly<Record<string, unknown>>)[token]
    }
  }
  return here
}
