// Makes a checkout ready to run: installs the locked dependencies if they are missing, builds what is out of date.
import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, utimesSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

export const root = fileURLToPath(new URL('../..', import.meta.url))

function run(command, args, what) {
  const done = spawnSync(command, args, { cwd: root, stdio: ['ignore', 2, 2], shell: process.platform === 'win32' })
  if (done.status !== 0) {
    process.stderr.write(`${what} failed: ${command} ${args.join(' ')} ended with ${done.status ?? done.signal}\n`)
    process.exit(1)
  }
}

function newestIn(folder) {
  let newest = 0
  for (const entry of readdirSync(folder, { withFileTypes: true, recursive: true })) {
    if (entry.isFile()) newest = Math.max(newest, statSync(join(entry.parentPath ?? entry.path, entry.name)).mtimeMs)
  }
  return newest
}

/** Installs when package-lock.json has changed since the last install, or nothing is installed. */
export function install() {
  const stamp = join(root, 'node_modules', '.installed-lock')
  const lock = readFileSync(join(root, 'package-lock.json'), 'utf8')
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === lock) return
  process.stderr.write('installing the locked dependencies (a minute or two, once) …\n')
  run('npm', ['ci', '--include=dev', '--no-audit', '--no-fund'], 'installing')
  writeFileSync(stamp, lock)
}

/** Builds dist/ when a source is newer than the last build. */
export function build() {
  const stamp = join(root, 'dist', '.built')
  const sources = ['src', 'simulators', join('config', 'tooling')].map((folder) => newestIn(join(root, folder)))
  const newest = Math.max(...sources, statSync(join(root, 'package-lock.json')).mtimeMs)
  if (existsSync(stamp) && statSync(stamp).mtimeMs >= newest) return
  process.stderr.write('building …\n')
  const began = new Date()
  run(process.execPath, [join(root, 'config', 'tooling', 'build.mjs')], 'building')
  mkdirSync(join(root, 'dist'), { recursive: true })
  writeFileSync(stamp, '')
  utimesSync(stamp, began, began)
}
