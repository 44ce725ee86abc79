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
  await backupFile(settings.store.file, words.out)
  world.out(`${words.out}: a whole copy of ${settings.store.file}\n`)
  return 0
}
