/** A site of many plain boards under load, and the proof that all it was told is safe is in its store. */
import { expect } from 'vitest'
import { openStore } from '../../src/record/store.js'
import type { Tree } from '../support/example-config.js'
import { TestBoard } from './board.js'

/** Currents may step as they like, so that no reading is unbelievable. */
export const LOAD_ROLES = ['pump-current', 'battery-current', 'panel-current', 'house-pump-current'] as const

export const LOAD_BOARDS: Tree = Object.fromEntries(
  LOAD_ROLES.map((role) => [`${role}-board`, { expect_every: '30 s', signals: { [role]: {} } }]),
)

export type Load = { readonly boards: readonly TestBoard[]; stop(): void }

/** Boards that publish every few milliseconds, each reading with a time and a value of its own. */
export function startLoad(url: string, site: string, everyMs: number): Load {
  let number = 0
  const latest = new Map<string, number>()
  const boards = LOAD_ROLES.map(
    (role) => new TestBoard({ url, topic: `water/${site}/${role}-board`, clientId: `${role}-board` }),
  )
  const timer = setInterval(() => {
    for (const [index, board] of boards.entries()) {
      const key = LOAD_ROLES[index] ?? ''
      const facts = [0, 1, 2].map(() => {
        const t = Math.max(Date.now(), (latest.get(key) ?? 0) + 1)
        latest.set(key, t)
        number += 1
        return { key, t, value: (number % 30_000) / 100 }
      })
      board.offer(facts, 'A')
    }
  }, everyMs)
  return { boards, stop: () => clearInterval(timer) }
}

/** Samples in a store, also while a daemon has it. */
export function countStored(file: string, site: string): number {
  const store = openStore({ file, now: Date.now(), readOnly: true })
  let count = 0
  const ids = store.seriesList(site).map((one) => one.id)
  store.read(ids, 0, Number.MAX_SAFE_INTEGER, () => {
    count += 1
  })
  store.close()
  return count
}

/** Opens the store that a daemon has left and compares it, sample for sample, with what the boards were told. */
export function expectKept(file: string, site: string, boards: readonly TestBoard[]): { kept: number; stored: number } {
  const store = openStore({ file, now: Date.now() })
  try {
    expect(store.startedWith).toBe('existing')
    expect(store.check()).toEqual([])
    const held = new Map<string, number>()
    const keys = store.seriesList(site)
    const ids = keys.map((one) => one.id)
    store.read(ids, 0, Number.MAX_SAFE_INTEGER, (index, t, value) => held.set(`${keys[index]?.key} ${t}`, value))
    const told = boards.flatMap((board) => board.acknowledged)
    expect(told.filter(({ key, t, value }) => held.get(`${key} ${t}`) !== value)).toEqual([])
    return { kept: told.length, stored: held.size }
  } finally {
    store.close()
  }
}
