/** What `size` prints: for an owner to read, with what it rests on and what to be careful about. */
import type { SiteSettings } from '../../model/settings.js'
import type { SizingResult } from '../../model/sizing.js'
import { type SizingBody, sizingBody } from '../bodies/sizing.js'
import { adviceLines, basisLines, daysWords, handLine, rangeWords, wireLine } from './sizing-lines.js'

const WIDTH = 100

export function sizingText(result: SizingResult, site: SiteSettings): string {
  const body = sizingBody(result)
  const name = site.name === '' ? site.id : site.name
  const parts: string[] = [
    `How much panel and battery: ${name}`,
    wrap(adviceLines(body)),
    body.options.length === 0 ? '' : `Days short in a year (95 of 100 cases between)\n${grid(body)}`,
    body.changes.length === 0 ? '' : `What else would help what stands there now\n${changes(body)}`,
    wrap([...basisLines(body, site.units), handLine(body) ?? '', wireLine(body) ?? ''].filter((line) => line !== '')),
    shade(body),
    body.cautions.length === 0 ? '' : `Keep in mind\n${body.cautions.map((line) => fold(line, '  - ')).join('\n')}`,
  ]
  const said = parts.filter((part) => part !== '').join('\n\n')
  // A terminal has no use for spaces that hold number and unit together.
  return `${said.replaceAll('\u00a0', ' ')}\n`
}

/** Arrays down, batteries across. What is recommended is marked with *, what stands there with =. */
function grid(body: SizingBody): string {
  const arrays = [...new Set(body.options.map((option) => option.array_w))]
  const batteries = [...new Set(body.options.map((option) => option.battery_ah))]
  const cell = (arrayW: number, ah: number): string => {
    const option = body.options.find((one) => one.array_w === arrayW && one.battery_ah === ah)
    if (option === undefined) return ''
    const chosen = body.recommended?.array_w === arrayW && body.recommended.battery_ah === ah
    const mark = chosen ? '*' : option.present ? '=' : ' '
    const days = option.short_days_per_year
    const middle = days < 0.05 ? '0' : days < 9.5 ? days.toFixed(1) : String(Math.round(days))
    return `${mark}${middle} (${rangeWords(option.short_days_ci95)})`
  }
  const head = ['', ...batteries.map((ah) => `${Math.round(ah)} Ah`)]
  const rows = arrays.map((watts) => [`${Math.round(watts)} W`, ...batteries.map((ah) => cell(watts, ah))])
  const widths = head.map((_, i) => Math.max(...[head, ...rows].map((row) => (row[i] ?? '').length)))
  const line = (row: readonly string[]): string =>
    row
      .map((text, i) => text.padEnd(widths[i] ?? 0))
      .join('  ')
      .trimEnd()
  return [
    ...[head, ...rows].map((row) => `  ${line(row)}`),
    '  = stands there now   * the smallest that is enough',
  ].join('\n')
}

function changes(body: SizingBody): string {
  return body.changes
    .map((one) =>
      fold(
        `${one.words}: ${daysWords(one.short_days_per_year)} (${rangeWords([one.short_days_ci95[0], one.short_days_ci95[1]])})`,
        '  - ',
      ),
    )
    .join('\n')
}

/** Hours in which something stands before the sun. */
function shade(body: SizingBody): string {
  const shaded = body.basis.shade_by_hour.filter((one) => one.transmission < 0.85)
  if (shaded.length === 0) return ''
  const list = shaded.map(
    (one) => `${String(one.hour_utc).padStart(2, '0')}:00 UTC ${Math.round(100 * one.transmission)} %`,
  )
  return fold(`Shade, as it was seen: ${list.join(', ')} of the clear sky arrives.`, '')
}

function wrap(lines: readonly string[]): string {
  return lines.map((line) => fold(line, '')).join('\n')
}

function fold(text: string, lead: string): string {
  const hang = ' '.repeat(lead.length)
  const lines: string[] = []
  let line = lead
  for (const word of text.split(' ')) {
    if (line.length + word.length + 1 > WIDTH && line.trim() !== '') {
      lines.push(line)
      line = hang
    }
    line += `${line === lead || line === hang ? '' : ' '}${word}`
  }
  return [...lines, line].join('\n')
}
