// npm test [-- FILTER …]: makes the checkout ready, builds, and runs every test.
import { spawnSync } from 'node:child_process'
import { join } from 'node:path'
import { build, install, root } from './ready.mjs'

install()
build()
const vitest = join(root, 'node_modules', 'vitest', 'vitest.mjs')
const words = ['run', '--config', join(root, 'config', 'tooling', 'vitest.config.ts'), ...process.argv.slice(2)]
const done = spawnSync(process.execPath, [vitest, ...words], { cwd: root, stdio: 'inherit' })
process.exit(done.status ?? 1)
