/** The OpenMetrics 1.0 text form (the specification's ABNF and MUST rules), written from plain families. */
import type { MetricFamily } from './source.js'

export const OPEN_METRICS_TYPE = 'application/openmetrics-text; version=1.0.0; charset=utf-8'

const NAME = /^[a-zA-Z_:][a-zA-Z0-9_:]*$/
const LABEL = /^[a-zA-Z_][a-zA-Z0-9_]*$/

/** A label's value or a help text: backslash, line feed and quote are escaped. */
function escaped(text: string): string {
  return text.replaceAll('\\', '\\\\').replaceAll('\n', '\\n').replaceAll('"', '\\"')
}

/** Numbers as the format writes them: NaN, +Inf and -Inf have their own words. */
export function metricNumber(value: number): string {
  if (Number.isNaN(value)) return 'NaN'
  if (value === Number.POSITIVE_INFINITY) return '+Inf'
  if (value === Number.NEGATIVE_INFINITY) return '-Inf'
  return String(value)
}

const SUFFIX: Record<MetricFamily['type'], string> = { counter: '_total', gauge: '', stateset: '', info: '_info' }

function check(family: MetricFamily): void {
  if (!NAME.test(family.name)) throw new Error(`metric name "${family.name}" is not one of OpenMetrics`)
  if (family.unit !== undefined && !family.name.endsWith(`_${family.unit}`)) {
    throw new Error(`metric "${family.name}" must end in its unit, _${family.unit}`)
  }
  if (/_total$|_info$/.test(family.name)) throw new Error(`metric "${family.name}" must be named without its suffix`)
}

function labelText(labels: Readonly<Record<string, string>>): string {
  const pairs = Object.entries(labels).map(([name, value]) => {
    if (!LABEL.test(name)) throw new Error(`label name "${name}" is not one of OpenMetrics`)
    return `${name}="${escaped(value)}"`
  })
  return pairs.length === 0 ? '' : `{${pairs.join(',')}}`
}

/**
 * Renders the families, each once and whole, and the closing `# EOF`. Families of the same name are an error of the
 * program, since a collector refuses the whole page for it.
 */
export function openMetrics(families: readonly MetricFamily[]): string {
  const seen = new Set<string>()
  const lines: string[] = []
  for (const family of families) {
    check(family)
    if (seen.has(family.name)) throw new Error(`metric family "${family.name}" appears twice`)
    seen.add(family.name)
    lines.push(`# TYPE ${family.name} ${family.type}`)
    if (family.unit !== undefined) lines.push(`# UNIT ${family.name} ${family.unit}`)
    lines.push(`# HELP ${family.name} ${escaped(family.help)}`)
    for (const point of family.points) {
      lines.push(`${family.name}${SUFFIX[family.type]}${labelText(point.labels)} ${metricNumber(point.value)}`)
    }
  }
  return `${[...lines, '# EOF'].join('\n')}\n`
}
