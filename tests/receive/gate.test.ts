import { describe, expect, test } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { createGate, type GateOptions } from '../../src/receive/gate.js'
import type { Account } from '../../src/receive/rules.js'
import { BOARDS, listLog } from './support.js'

const account: Account = { name: 'tank-board', role: 'board', site: 'juniper' }
const none = Buffer.alloc(0)

function gate(options: Partial<GateOptions> = {}) {
  return createGate({
    boards: BOARDS,
    verify: () => Promise.resolve(account),
    anonymous: false,
    probe: { name: '$probe-x', secret: Buffer.from('secret') },
    now: () => 0,
    log: listLog().log,
    ...options,
  })
}

describe('the gate', () => {
  test('takes clients without a name from loopback addresses only, even where anonymous is on', async () => {
    const open = gate({ anonymous: true })
    expect(await open(null, none, '127.0.0.1')).toMatchObject({ who: 'anonymous', probe: false })
    expect(await open(null, none, '::ffff:127.0.0.1')).toMatchObject({ who: 'anonymous' })
    expect(await open(null, none, '192.0.2.7')).toMatchObject({ reason: 'account', code: 5 })
    expect(await gate()(null, none, '127.0.0.1')).toMatchObject({ reason: 'account', code: 5 })
  })

  test('a wrong name is not taken as no name', async () => {
    const open = gate({ anonymous: true, verify: () => Promise.resolve(null) })
    expect(await open('nobody', none, '127.0.0.1')).toMatchObject({ reason: 'account', code: 4 })
  })

  test('knows the program itself by its secret, and never asks the account store for it', async () => {
    const strict = gate({ verify: () => Promise.reject(new Error('asked')) })
    expect(await strict('$probe-x', Buffer.from('secret'), '127.0.0.1')).toMatchObject({ probe: true })
    expect(await strict('$probe-x', Buffer.from('secreT'), '127.0.0.1')).toMatchObject({ code: 4 })
    expect(await strict('$probe-x', none, '127.0.0.1')).toMatchObject({ code: 4 })
  })

  test('checks few passwords at once, the others in turn, and turns away what would wait too long', async () => {
    let running = 0
    let most = 0
    const open: (() => void)[] = []
    const slow = gate({
      verify: () =>
        new Promise((resolve) => {
          most = Math.max(most, ++running)
          open.push(() => {
            running--
            resolve(account)
          })
        }),
    })
    const count = LIMITS.verifyAtOnceMax + LIMITS.verifyWaitingMax + 3
    const answers = Array.from({ length: count }, (_, i) => slow(`b${i}`, none, '127.0.0.1'))
    let left = count - 3
    while (left > 0) {
      await new Promise((resolve) => setImmediate(resolve))
      for (const go of open.splice(0)) {
        left--
        go()
      }
    }
    const all = await Promise.all(answers)
    expect(most).toBe(LIMITS.verifyAtOnceMax)
    expect(all.filter((one) => 'code' in one && one.code === 3)).toHaveLength(3)
    expect(all.filter((one) => 'who' in one)).toHaveLength(count - 3)
  })
})
