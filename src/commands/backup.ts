import { closeSync, openSync, readSync, statSync } from 'node:fs'
import { resolve } from 'node:path'
import { backupFile } from '../record/backup.js'
import { readConfig, type Surroundings, WrongWords } from './words.js'

/** `backup`: a consistent, proved copy of the store, also while the daemon runs. */
export async function backup(
  words: { readonly config: string; readonly out: string },
  world: Surroundings,
): Promise<number> {
  const settings = readConfig(words.config)
  if (resolve(words.out) === resolve(settings.store.file))
    throw new WrongWords('--out is the store itself; name another file')
  if (!mayTakeThePlaceOf(words.out))
    throw new WrongWords(`--out ${words.out}: is there already and is no earlier copy of a store; name another file`)
  await backupFile(settings.store.file, words.out)
  world.out(`${words.out}: a whole copy of ${settings.store.file}\n`)
  return 0
}

/** The first bytes of every SQLite file (sqlite.org/fileformat2.html, 1.3.1). */
const SQLITE_MAGIC = 'SQLite format 3\0'

/** An earlier copy is replaced, for who copies each night; nothing else is, say a configuration or a folder. */
function mayTakeThePlaceOf(file: string): boolean {
  const found = statSync(file, { throwIfNoEntry: false })
  if (found === undefined) return true
  if (!found.isFile()) return false
  const start = Buffer.alloc(SQLITE_MAGIC.length)
  const handle = openSync(file, 'r')
  try {
    readSync(handle, start, 0, start.length, 0)
  } finally {
    closeSync(handle)
  }
  return found.size === 0 || start.toString('latin1') === SQLITE_MAGIC
}
