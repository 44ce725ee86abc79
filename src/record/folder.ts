import { mkdirSync } from 'node:fs'
import { dirname } from 'node:path'
import { toStoreError } from './store-error.js'

/** Makes the folder that the store's file is to lie in, where it is missing. Throws StoreError with a hint. */
export function makeStoreFolder(file: string): void {
  const folder = dirname(file)
  try {
    mkdirSync(folder, { recursive: true })
  } catch (error) {
    throw toStoreError(error, `make the folder of the store (store.file), ${folder}`)
  }
}
