/** Programs that a test needs and that may be absent here. */
import { accessSync, constants } from 'node:fs'
import { spawnSync } from 'node:child_process'
import { delimiter, join } from 'node:path'

/** How to get each of them on Debian and its relatives. */
const INSTALL: Readonly<Record<string, string>> = {
  mosquitto: 'apt-get install mosquitto',
  mosquitto_pub: 'apt-get install mosquitto-clients',
  chromium: 'apt-get install chromium',
  perl: 'apt-get install perl',
  prlimit: 'apt-get install util-linux',
}

function find(program: string): string | null {
  const places = [...(process.env.PATH ?? '').split(delimiter), '/usr/bin', '/usr/sbin', '/usr/local/bin']
  for (const place of places) {
    const path = join(place, program)
    try {
      accessSync(path, constants.X_OK)
      return path
    } catch {
      // Not here; the next place may have it.
    }
  }
  return null
}

/**
 * The path of a program, or null where it is absent: then skip by name with `describe.skipIf`. With CI set nothing
 * may be skipped, and an absent program is an error.
 */
export function needs(program: string): string | null {
  const path = find(program)
  if (path !== null) return path
  const words = `skipped: ${program} is not installed (${INSTALL[program] ?? `install ${program}`})`
  if (process.env.CI) throw new Error(words)
  process.stderr.write(`${words}\n`)
  return null
}

/** The path of a Python that has a module, or null: as `needs`. `debian` names the package that brings it. */
export function needsPython(module: string, debian: string): string | null {
  // Debian's modules belong to Debian's Python, which need not be the first on the path.
  for (const python of ['/usr/bin/python3', 'python3']) {
    if (spawnSync(python, ['-c', `import ${module}`]).status === 0) return python
  }
  const words = `skipped: no Python has ${module} (apt-get install ${debian})`
  if (process.env.CI) throw new Error(words)
  process.stderr.write(`${words}\n`)
  return null
}
