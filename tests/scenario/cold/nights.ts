/**
 * `npm run nights -- FILE`: how well tonight's minimum is said on the clear, calm nights of an hourly weather file,
 * trained on other months only. `--winters=N` also lives N simulated winters at each place and counts the freeze warnings.
 */
import { compare, readNights } from './hourly-nights.js'
import { PLACES, SEEDS, tally, winter } from './winter.js'

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
  console.log(
    `${winters} simulated winters at each place, seeds from ${SEEDS.countedFrom} (settings chosen with others):`,
  )
  const lived = PLACES.map((place) => Array.from({ length: winters }, (_, i) => winter(place, SEEDS.countedFrom + i)))
  for (const [words, list] of [
    ...PLACES.map((place, i) => [place, lived[i] ?? []] as const),
    ['all', lived.flat()],
  ] as const) {
    const found = tally(list)
    console.log(
      `${words}: lines that came to 0 degC in clear nights ${found.clear}, warned 3 h ahead ${found.clearAhead}`,
    )
    console.log(`  of these in the first night of a cold spell ${found.first}, warned 3 h ahead ${found.firstAhead}`)
    console.log(`  of these only touched 0 degC ${found.touched}, warned 3 h ahead ${found.touchedAhead}`)
    console.log(`  in all nights ${found.arrived}, warned 3 h ahead ${found.arrivedAhead}`)
    console.log(`  warnings of a line ${found.warnings}, without a minimum of that line below 1 degC ${found.needless}`)
    console.log(`  as told (lines together) ${found.told}, without ${found.toldNeedless}`)
    console.log(`  messages of freeze-risk and freezing in a winter ${(found.notices / list.length).toFixed(1)}`)
  }
}
