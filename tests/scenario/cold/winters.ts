/** `npm run nights` and this: freeze warnings in simulated winters. `tsx tests/scenario/cold/winters.ts [winters]`. */
import { tally, winter } from './winter.js'

const count = Number(process.argv[2] ?? 30)
const winters = Array.from({ length: count }, (_, i) => ({
  site: i % 2 === 0 ? ('juniper' as const) : ('fern' as const),
  seed: i + 1,
})).map(({ site, seed }) => ({ site, seed, winter: winter(site, seed) }))
for (const site of ['juniper', 'fern'] as const) {
  const found = tally(winters.filter((one) => one.site === site).map((one) => one.winter))
  console.log(site, JSON.stringify(found))
}
for (const { site, seed, winter: one } of winters) {
  for (const late of one.arrived) {
    if (!late.clear || (late.warnedMs !== null && late.warnedMs >= 3 * 3_600_000)) continue
    const hours = late.warnedMs === null ? 'not warned' : `${(late.warnedMs / 3_600_000).toFixed(1)} h`
    console.log(`late: ${site} ${seed} ${late.line} ${new Date(late.at).toISOString()} ${hours}`)
  }
}
