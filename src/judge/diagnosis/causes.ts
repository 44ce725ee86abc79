/** The causes of an alarm in order of what speaks for them, in words, with what speaks for the first. */
import type { View } from '../definition.js'
import { type Diagnosis, diagnose, type Ranked } from './classify.js'
import { type ReadingName, readingsOf } from './readings.js'
import type { RowId } from './rows.js'

/** A cause this unlikely is left out, unless it shares a group with the first. */
const LEAST_SHARE = 0.03
const MOST = 4
/** A reading speaks clearly for the first cause when it makes it twice as likely as the second. */
const CLEAR = 0.3

export function diagnosisOf(view: View, among: readonly RowId[]): Diagnosis {
  return diagnose(readingsOf(view), among)
}

/** Sentences, the likeliest first; to the first is added what speaks for it. */
export function causesInWords(diagnosis: Diagnosis): readonly string[] {
  const [first] = diagnosis.ranked
  if (first === undefined) return []
  const kept = diagnosis.ranked.filter(
    (one) => one.share >= LEAST_SHARE || (one.row.group !== null && one.row.group === first.row.group),
  )
  return kept.slice(0, MOST).map((one, i) => (i === 0 ? `${one.row.says}${reasons(one, kept[1])}` : one.row.says))
}

/** What speaks, by reading: of a sign, as it was seen and as it was not. Null is not worth a word. */
const FOR: Readonly<Record<ReadingName, string | readonly [yes: string | null, no: string | null]>> = {
  power: 'the power it takes',
  rise: 'the level',
  rate: 'the rate of the pump between draws',
  hunt: 'a current that hunts',
  volts: 'the voltage',
  cold: 'the temperature of the line',
  'from-start': ['light from the first second', 'water had come first'],
  'crept-up': ['a current that had crept up before', null],
  'level-frozen': ['a level that repeats one value', null],
  'nobody-there': ['nobody is there', 'somebody is there'],
  'jammed-before': ['heavy starts just before', null],
  'ran-dry-before': ['this well ran dry before', null],
  unasked: ['it started though nothing called for water', null],
  'tank-rises': ['the tank rises', null],
  'was-low': ['the battery was low before', null],
}

/** At most two readings that speak clearly for it, and for it rather than for the next. */
function reasons({ supports }: Ranked, next: Ranked | undefined): string {
  const beside = (reading: ReadingName): number => next?.supports.find((one) => one.reading === reading)?.support ?? 0
  const clear = supports
    .map((one) => ({ ...one, more: one.support - beside(one.reading) }))
    .filter((one) => one.support > 0 && one.more >= CLEAR)
    .sort((a, b) => b.more - a.more)
    .flatMap(({ reading, said }) => {
      const words = FOR[reading]
      return (typeof words === 'string' ? words : words[said === true ? 0 : 1]) ?? []
    })
    .slice(0, 2)
  return clear.length === 0 ? '' : ` For it speaks: ${clear.join(' and ')}.`
}
