/**
 * `npm run nights -- FILE`: how well tonight's minimum is said on the clear, calm nights of an hourly weather file,
 * trained on other months only. `--winters=N` also lives N simulated winters and counts the freeze warnings.
 */
import { compare, readNights } from './hourly-nights.js'
import { tally, winter } from './winter.js'

const file = process.argv.slice(2).find((word) => !word.startsWith('--')) ?? '../shared/data/greensboro-nc-hourly.csv'
const winters = Number(process.argv.find((word) => word.startsWith('--winters='))?.slice(10) ?? 0)
const nights = readNights(file)
for (const [words, found] of [
  ['clear, calm nights', compare(nights)],
  ['all nights', compare(nights, () => true)],
] as const) {
  console.log(`${found.nights} ${words} of ${file}; root-mean-square error of the minimum, degC:`)
  console.log(`  own nights of other months  ${found.own.toFixed(2)}`)
  console.log(`  last night's minimum        ${found.persistence.toFixed(2)}`)
  console.log(`  trend since sunset, root    ${found.rootTrend.toFixed(2)}`)
  console.log(`  trend since sunset, even    ${found.straightTrend.toFixed(2)}`)
  console.log(`  general rule (made from these very nights) ${found.general.toFixed(2)}`)
}
if (winters > 0) {
  const lived = Array.from({ length: winters }, (_, i) => winter(i % 2 === 0 ? 'juniper' : 'fern', i + 1))
  const found = tally(lived)
  console.log(`${winters} simulated winters:`)
  console.log(`  lines that came to 0 degC in clear nights ${found.clear}, warned 3 h ahead ${found.clearAhead}`)
  console.log(`  in all nights ${found.arrived}, warned 3 h ahead ${found.arrivedAhead}`)
  console.log(`  warnings of a line ${found.warnings}, without a minimum of that line below 1 degC ${found.needless}`)
  console.log(`  as told (lines together) ${found.told}, without ${found.toldNeedless}; messages ${found.notices}`)
}
