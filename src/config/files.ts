/** Files that a configuration names: secrets are read, certificates are looked for, both relative to its folder. */
import { readFileSync, type Stats, statSync } from 'node:fs'
import { dirname, resolve } from 'node:path'
import { LIMITS } from '../model/limits.js'
import { error, type Issue, type Path, warning } from './finding.js'

const READABLE_BY_ALL = 0o004

/** Reads and checks the files named in one configuration file, and gathers what is wrong with them. */
export type FileReader = {
  /** Content of a secret file without its line end; '' where it cannot be had (an issue says why). */
  readonly secret: (name: string, path: Path) => string
  /** Absolute path of a file that must be there; a private one is checked like a secret. */
  readonly file: (name: string, path: Path, isPrivate?: boolean) => string
  /** Absolute path of a file that need not be there yet. */
  readonly resolve: (name: string) => string
  readonly issues: Issue[]
}

/** A reader for the files that `configFile` names. */
export function createFileReader(configFile: string): FileReader {
  const folder = dirname(resolve(configFile))
  const issues: Issue[] = []
  const look = (name: string, path: Path, isPrivate: boolean): Stats | null => {
    const full = resolve(folder, name)
    try {
      const stats = statSync(full)
      if (!stats.isFile()) {
        issues.push(error(path, 'names something that is no file', { found: full, expected: 'a file' }))
        return null
      }
      if (isPrivate && process.platform !== 'win32' && (stats.mode & READABLE_BY_ALL) !== 0) {
        issues.push(
          warning(path, 'can be read by every user of this machine', { found: full, hint: `chmod 600 ${full}` }),
        )
      }
      return stats
    } catch (cause) {
      issues.push(
        error(path, 'names a file that cannot be read', { found: full, expected: 'a file', hint: reason(cause) }),
      )
      return null
    }
  }
  const secret = (name: string, path: Path): string => {
    const stats = look(name, path, true)
    if (stats === null) return ''
    const full = resolve(folder, name)
    if (stats.size > LIMITS.secretBytesMax) {
      const expected = `at most ${LIMITS.secretBytesMax} bytes`
      issues.push(
        error(path, 'names a file too large for a secret', { found: `${full}, ${stats.size} bytes`, expected }),
      )
      return ''
    }
    return content(full, path, issues)
  }
  return {
    secret,
    file: (name, path, isPrivate = false) => {
      look(name, path, isPrivate)
      return resolve(folder, name)
    },
    resolve: (name) => resolve(folder, name),
    issues,
  }
}

function content(full: string, path: Path, issues: Issue[]): string {
  try {
    const text = readFileSync(full, 'utf8').replace(/\r?\n$/, '')
    if (text === '') issues.push(error(path, 'names an empty file', { found: full, expected: 'the secret, one line' }))
    return text
  } catch (cause) {
    issues.push(error(path, 'names a file that cannot be read', { found: full, hint: reason(cause) }))
    return ''
  }
}

/** The system's reason in plain words; never the content of the file. */
export function reason(cause: unknown): string {
  const code = cause instanceof Error && 'code' in cause ? String(cause.code) : ''
  if (code === 'ENOENT') return 'there is no such file'
  if (code === 'EACCES') return 'permission denied'
  if (code === 'EISDIR') return 'it is a folder'
  return cause instanceof Error ? cause.message : String(cause)
}
