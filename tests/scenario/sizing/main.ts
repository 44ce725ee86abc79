/** Prints how sizes compare with the truth: `npx tsx tests/scenario/sizing/main.ts [seeds]`. Some minutes for twenty. */
import { FIVE, type Tried, trySeed, withinOneStep } from './try-seed.js'

const seeds = Number(process.argv[2] ?? 20)
const all: Tried[] = []
for (let seed = 1; seed <= seeds; seed += 1) {
  const tried = trySeed(seed)
  all.push(tried)
  const five = tried.five.map(({ option, truth, inside }) => {
    const [low, high] = option.shortDaysCi95.map((days) => days.toFixed(1))
    return `${option.arrayW} W ${option.batteryAh} Ah: ${truth.toFixed(1)} of ${option.shortDaysPerYear.toFixed(1)} (${low}…${high})${inside ? '' : ' OUTSIDE'}`
  })
  const { recommended } = tried.result
  const words =
    tried.steps === null ? 'none' : `${tried.steps[0]} array, ${tried.steps[1]} battery steps from the cheapest`
  console.log(`seed ${seed}: ${five.join('; ')}`)
  console.log(`  recommended ${recommended?.arrayW ?? '-'} W ${recommended?.batteryAh ?? '-'} Ah: ${words}`)
}
const inside = all.flatMap((one) => one.five).filter((one) => one.inside).length
const whole = all.filter((one) => one.five.every((option) => option.inside)).length
console.log(
  `\ntruth inside the 95 % interval: ${inside} of ${all.length * FIVE.length} options; all five in ${whole} of ${all.length} seeds`,
)
console.log(
  `recommended within one step of the cheapest that truly meets the need: ${all.filter(withinOneStep).length} of ${all.length} seeds`,
)
