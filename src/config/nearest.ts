/**
 * The known word that a mistyped one most likely meant. Distance is Damerau–Levenshtein in its restricted form
 * (insert, delete, replace, swap neighbours): the four slips of a hand on a keyboard.
 */
export function nearest(word: string, known: readonly string[]): string | null {
  let best: string | null = null
  let bestDistance = Math.max(1, Math.floor(word.length / 3)) + 1
  for (const candidate of known) {
    const distance = editDistance(fold(word), fold(candidate))
    if (distance < bestDistance) {
      best = candidate
      bestDistance = distance
    }
  }
  return best
}

/** `did you mean "x"?`, or null when nothing is near. */
export function meant(word: string, known: readonly string[]): string | null {
  const near = nearest(word, known)
  return near === null ? null : `did you mean "${near}"?`
}

const LISTED_MAX = 12

/** The known words as an error names them: all of a few; of many only their number, where the nearest is named too. */
export function oneOf(known: readonly string[], word: string): string {
  const many = known.length > LISTED_MAX && nearest(word, known) !== null
  return many ? `one of the ${known.length} known words` : `one of ${known.join(', ')}`
}

/** Dashes, underscores, spaces and case are not what a person gets wrong on purpose. */
function fold(word: string): string {
  return word.toLowerCase().replace(/[_\s-]/g, '')
}

const LONGEST_COMPARED = 64

export function editDistance(left: string, right: string): number {
  const a = left.slice(0, LONGEST_COMPARED)
  const b = right.slice(0, LONGEST_COMPARED)
  let twoBack: number[] = []
  let oneBack = Array.from({ length: b.length + 1 }, (_, index) => index)
  for (let i = 1; i <= a.length; i++) {
    const row = [i]
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1]
      let cost = Math.min((oneBack[j] ?? 0) + 1, (row[j - 1] ?? 0) + 1, (oneBack[j - 1] ?? 0) + (same ? 0 : 1))
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        cost = Math.min(cost, (twoBack[j - 2] ?? 0) + 1)
      }
      row.push(cost)
    }
    twoBack = oneBack
    oneBack = row
  }
  return oneBack[b.length] ?? 0
}
