import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach } from 'vitest'
import { DAY } from '../../src/model/time.js'
import { type OpenOptions, openStore, type Store } from '../../src/record/store.js'

/** Midnight UTC of an ordinary day, and noon of it. */
export const MIDNIGHT = Date.UTC(2026, 0, 15)
export const NOON = MIDNIGHT + DAY / 2

const stores: Store[] = []
const folders: string[] = []

afterEach(() => {
  for (const store of stores.splice(0)) store.close()
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true })
})

/** A folder that is gone after the test. */
export function folder(): string {
  const made = mkdtempSync(join(tmpdir(), 'store-test-'))
  folders.push(made)
  return made
}

/** Opens a store that is closed after the test; in memory unless a file is named. */
export function open(options: Partial<OpenOptions> = {}): Store {
  const store = openStore({ file: ':memory:', now: NOON, ...options })
  stores.push(store)
  return store
}

export type Triple = readonly [index: number, t: number, value: number]

/** Everything the store holds of some series, as it reads it out. */
export function readAll(store: Store, series: readonly number[], from = 0, to = 8_640_000_000_000): Triple[] {
  const found: Triple[] = []
  store.read(series, from, to, (index, t, value) => {
    found.push([index, t, value])
  })
  return found
}

/** Seals until nothing is left to seal. */
export function sealAll(store: Store, now: number, samplesMax?: number): number {
  let blocks = 0
  while (store.sealDue(now)) blocks += store.seal(now, samplesMax).blocks
  return blocks
}
