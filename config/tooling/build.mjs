// Builds dist/: the program (tsc), the simulated boards as a program of their own (esbuild), the page (esbuild).
import { spawnSync } from 'node:child_process'
import { chmodSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { build } from 'esbuild'
import { buildPage } from './build-page.mjs'

const root = fileURLToPath(new URL('../..', import.meta.url))
const tsc = join(root, 'node_modules', 'typescript', 'bin', 'tsc')
const compiled = spawnSync(process.execPath, [tsc, '-p', join(root, 'tsconfig.json')], { cwd: root, stdio: 'inherit' })
if (compiled.status !== 0) process.exit(1)

await build({
  entryPoints: [join(root, 'simulators', 'main.ts')],
  outfile: join(root, 'dist', 'simulators.js'),
  bundle: true,
  platform: 'node',
  target: 'node20',
  format: 'esm',
  packages: 'external',
  logLevel: 'warning',
})
await buildPage(join(root, 'dist', 'page'))
chmodSync(join(root, 'dist', 'main.js'), 0o755)
