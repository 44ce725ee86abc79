import { describe, expect, it } from 'vitest'
import { createPastStore } from '../../src/daemon/past-store.js'
import type { Message } from '../../src/model/message.js'
import { HOUR, MINUTE, SECOND } from '../../src/model/time.js'
import { AFTERNOON, message, SILENT_LOG } from '../tell/support.js'

/** A teller that answers as told, and a store that is down until it is said to work. */
function scene() {
  const asked: string[][] = []
  const state = { holding: true, works: true }
  const teller = {
    direct: async (messages: readonly Message[]) => {
      asked.push(messages.map(({ key }) => key))
      return state.works ? [] : messages
    },
  }
  const past = createPastStore({ teller, log: { ...SILENT_LOG, debug() {} }, holding: () => state.holding })
  const run = async (at: number) => {
    past.run(at)
    await Promise.resolve()
    await Promise.resolve()
  }
  return { asked, state, past, run }
}

describe('messages that the store could not take', () => {
  it('go out at the next step when they are due, and those for the morning in the morning', async () => {
    const { asked, past, run } = scene()
    past.add([message({ key: 'now', due: AFTERNOON }), message({ key: 'later', due: AFTERNOON + 8 * HOUR })])
    await run(AFTERNOON)
    await run(AFTERNOON + SECOND)
    expect(asked).toEqual([['now']])
    await run(AFTERNOON + 8 * HOUR)
    expect(asked).toEqual([['now'], ['later']])
  })

  it('are tried again each minute until they get through', async () => {
    const { asked, state, past, run } = scene()
    state.works = false
    past.add([message({ key: 'a', due: AFTERNOON })])
    await run(AFTERNOON)
    await run(AFTERNOON + MINUTE - SECOND)
    expect(asked).toHaveLength(1)
    await run(AFTERNOON + MINUTE)
    state.works = true
    await run(AFTERNOON + 2 * MINUTE)
    await run(AFTERNOON + 3 * MINUTE)
    expect(asked).toEqual([['a'], ['a'], ['a']])
  })

  it('are the business of the outbox again once the store works', async () => {
    const { asked, state, past, run } = scene()
    past.add([message({ key: 'later', due: AFTERNOON + HOUR })])
    await run(AFTERNOON)
    state.holding = false
    await run(AFTERNOON + MINUTE)
    state.holding = true
    await run(AFTERNOON + HOUR)
    expect(asked).toEqual([])
  })
})
