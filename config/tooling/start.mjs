// npm start [-- VERB …]: makes the checkout ready, then runs the program; without a verb, the demo.
import { spawn } from 'node:child_process'
import { join } from 'node:path'
import { build, install, root } from './ready.mjs'

install()
build()
const words = process.argv.slice(2)
const child = spawn(process.execPath, [join(root, 'dist', 'main.js'), ...(words.length > 0 ? words : ['demo'])], {
  stdio: 'inherit',
})
for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => child.kill(signal))
// The shell between npm and this script passes no SIGTERM on: once it is gone, nobody else would stop the program.
if (process.env.npm_lifecycle_event !== undefined) {
  const parent = process.ppid
  setInterval(() => {
    if (process.ppid !== parent) child.kill('SIGTERM')
  }, 500).unref()
}
child.on('exit', (code, signal) => process.exit(code ?? (signal === null ? 1 : 0)))
