// npm test [-- FILTER …]: makes the checkout ready, builds, and runs every test. With CI set, a test that was skipped is
// a failure, and the counts are written to .tmp/tests.json for .ci/run.
import { spawnSync } from 'node:child_process'
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { build, install, root } from './ready.mjs'

const inCi = Boolean(process.env.CI)
const report = join(root, '.tmp', 'vitest.json')
const counts = join(root, '.tmp', 'tests.json')

/** Passed and failed, where a skipped test and a file that could not be run each count as failed; what they are. */
function countsOf(file) {
  const { testResults } = JSON.parse(readFileSync(file, 'utf8'))
  const tests = testResults.flatMap(({ name, status, assertionResults }) => {
    if (status === 'failed' && !assertionResults.some((one) => one.status === 'failed')) {
      return [...assertionResults, { status: 'failed', fullName: `${name} could not be run` }]
    }
    return assertionResults
  })
  const bad = tests.filter(({ status }) => status !== 'passed')
  return {
    passed: tests.length - bad.length,
    failed: bad.length,
    names: bad.map(({ status, fullName }) => `${status}: ${fullName}`),
  }
}

install()
build()
const vitest = join(root, 'node_modules', 'vitest', 'vitest.mjs')
const words = ['run', '--config', join(root, 'config', 'tooling', 'vitest.config.ts'), ...process.argv.slice(2)]
if (inCi) {
  mkdirSync(join(root, '.tmp'), { recursive: true })
  for (const file of [report, counts]) rmSync(file, { force: true })
  words.push('--reporter=default', '--reporter=json', `--outputFile.json=${report}`)
}
const done = spawnSync(process.execPath, [vitest, ...words], { cwd: root, stdio: 'inherit' })
if (!inCi) process.exit(done.status ?? 1)

const { passed, failed, names } = countsOf(report)
writeFileSync(counts, `${JSON.stringify({ passed, failed })}\n`)
for (const name of names) process.stdout.write(`${name}\n`)
process.exit(done.status === 0 && failed === 0 && passed > 0 ? 0 : done.status || 1)
