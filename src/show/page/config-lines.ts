/** From what was found at a sensor to the lines of the configuration that put it right. Pure. */
import type { SignalBody } from '../bodies/signals.js'

/** What the signal said, and what was measured beside it, both in the role's SI unit. */
export type Beside = { readonly said: number; readonly measured: number }

export type Change = {
  readonly scale?: number
  readonly offset?: number
  readonly table?: readonly (readonly [number, number])[]
  readonly accuracy?: number
  readonly unit?: string
}

/** Readings further apart than this share of their size tell a slope; nearer ones only a shift. */
const APART_SHARE = 0.1
const APART_LEAST = 0.1

/** The payload's own number before scale and offset. Where a table stands it cannot be told. */
export function rawOf(signal: SignalBody, si: number): number {
  return (si / signal.unit_scale - signal.offset) / signal.scale
}

/**
 * One reading beside the signal gives an offset, two that lie apart give scale and offset, more give a table.
 * Null where a table is in use already: its points can only be set by hand.
 */
export function changeFor(signal: SignalBody, pairs: readonly Beside[]): Change | null {
  const first = pairs[0]
  if (first === undefined || signal.has_table) return null
  const sorted = pairs.toSorted((a, b) => a.said - b.said)
  const low = sorted[0] ?? first
  const high = sorted.at(-1) ?? first
  const apart = high.said - low.said
  if (apart < Math.max(APART_LEAST, APART_SHARE * Math.abs(high.said))) {
    const shift = pairs.reduce((sum, pair) => sum + pair.measured - pair.said, 0) / pairs.length
    return { offset: signal.offset + shift / signal.unit_scale }
  }
  if (pairs.length > 2) return { table: sorted.map(({ said, measured }) => [rawOf(signal, said), measured]) }
  const scale =
    (high.measured - low.measured) / signal.unit_scale / (rawOf(signal, high.said) - rawOf(signal, low.said))
  return { scale, offset: low.measured / signal.unit_scale - scale * rawOf(signal, low.said) }
}

/** The reading at rest becomes 0. */
export function zeroChange(signal: SignalBody, mean: number): Change {
  return { offset: signal.offset - mean / signal.unit_scale }
}

/** The other way round: what came in as + is −. */
export function turnedChange(signal: SignalBody): Change {
  return { scale: -signal.scale, offset: -signal.offset }
}

function tidy(value: number): string {
  return String(Number(value.toPrecision(5)))
}

/** The members that change; what is not named stays as it is. */
function members(signal: SignalBody, { unit, scale, offset, table, accuracy }: Change): string[] {
  const own = `# in the unit that the board sends, here taken as ${signal.unit_written ?? signal.unit}`
  const points = table?.map(([raw, si]) => `[${tidy(raw)}, "${tidy(si)} ${signal.unit}"]`)
  return [
    unit === undefined ? null : `unit: ${JSON.stringify(unit)}`,
    scale === undefined ? null : `scale: ${tidy(scale)}`,
    offset === undefined ? null : `offset: ${tidy(offset)}  ${own}`,
    points === undefined ? null : `table: [${points.join(', ')}]  # in place of scale and offset`,
    accuracy === undefined ? null : `accuracy: "${tidy(accuracy)} ${signal.unit}"`,
  ].filter((line) => line !== null)
}

/** YAML to bring into what stands there for these signals; '' when nothing is to be changed. */
export function configLines(signals: readonly SignalBody[], changes: ReadonlyMap<string, Change>): string {
  const changed = signals.filter(({ key }) => changes.has(key))
  if (changed.length === 0) return ''
  const boards = [...new Set(changed.map(({ board }) => board))]
  const lines = boards.flatMap((board) => [
    `  ${board}:`,
    '    signals:',
    ...changed
      .filter((signal) => signal.board === board)
      .flatMap((signal) => [
        `      ${signal.key}:`,
        ...members(signal, changes.get(signal.key) ?? {}).map((line) => `        ${line}`),
      ]),
  ])
  return ['boards:', ...lines].join('\n')
}
