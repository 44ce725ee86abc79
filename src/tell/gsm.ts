/**
 * The 7-bit default alphabet of text messages: 3GPP TS 23.038 (once GSM 03.38), section 6.2.1, and its extension
 * table, 6.2.1.1. A message that keeps to it holds 160 characters; one character outside makes a gateway switch to
 * 70-character parts or drop it.
 */

/** One septet each. Code 0x09 is the capital Ç, as the standard has it since its correction. */
const BASIC = new Set(
  '@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !"#¤%&\'()*+,-./0123456789:;<=>?' +
    '¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà',
)
/** Two septets each: an escape goes before them. */
const EXTENDED = new Set('\f^{}\\[~]|€')

/** Signs that people's sentences use and the alphabet does not have, in the plain letters that say the same. */
const SPELLED: Readonly<Record<string, string>> = {
  '‘': "'",
  '’': "'",
  '‚': "'",
  '“': '"',
  '”': '"',
  '„': '"',
  '–': '-',
  '—': '-',
  '−': '-',
  '…': '...',
  '·': '-',
  '•': '-',
  '→': '->',
  '±': '+-',
  '×': 'x',
  '÷': '/',
  '≤': '<=',
  '≥': '>=',
  '≈': '~',
  '°': '',
  '½': '1/2',
  '²': '2',
  '³': '3',
  µ: 'u',
  '\t': ' ',
  '\u00a0': ' ',
  '\u2009': ' ',
  '\u202f': ' ',
}

function known(char: string): boolean {
  return BASIC.has(char) || EXTENDED.has(char)
}

function plain(char: string): string {
  if (known(char)) return char
  const spelled = SPELLED[char]
  if (spelled !== undefined) return spelled
  const bare = [...char.normalize('NFKD')].filter(known).join('')
  return bare === '' ? '?' : bare
}

/** The text in characters of the alphabet alone; what has no likeness there becomes `?`. */
export function toGsm(text: string): string {
  return [...text].map(plain).join('')
}

/** Septets that a text takes up; null where it has a character that is not in the alphabet. */
export function septets(text: string): number | null {
  let count = 0
  for (const char of text) {
    if (BASIC.has(char)) count += 1
    else if (EXTENDED.has(char)) count += 2
    else return null
  }
  return count
}

/**
 * The beginning of a text that fits into so many septets, cut between words and ended with `...` where anything had
 * to go.
 *
 * @param text in characters of the alphabet (see `toGsm`)
 */
export function fitSeptets(text: string, septetsMax: number): string {
  if ((septets(text) ?? Number.POSITIVE_INFINITY) <= septetsMax) return text
  const mark = '...'
  let used = mark.length
  let cut = ''
  for (const char of text) {
    used += EXTENDED.has(char) ? 2 : 1
    if (used > septetsMax) break
    cut += char
  }
  const space = cut.lastIndexOf(' ')
  const whole = space > cut.length / 2 ? cut.slice(0, space) : cut
  return `${whole.trimEnd()}${mark}`.slice(0, septetsMax)
}
