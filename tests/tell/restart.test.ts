import { type ChildProcess, spawn } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { openStore } from '../../src/record/store.js'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { compose } from '../../src/tell/compose.js'
import { createTeller } from '../../src/tell/teller.js'
import { wayDown } from '../../src/tell/way.js'
import { wayAddress } from '../../src/tell/way-book.js'
import { manualClock } from '../support/manual-clock.js'
import { AFTERNOON, collector, message, notice, OPS, SILENT_LOG, siteSettings, tellSettings } from './support.js'

let folder = ''
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'sightglass-tell-'))
})
afterEach(() => {
  rmSync(folder, { recursive: true, force: true })
})

const site = siteSettings({ tell: tellSettings({ people: [{ ...OPS, ways: ['mail-1'] }] }) })

/** A teller over the store's own outbox in a file, as often as it is opened again. */
function open(clock: ReturnType<typeof manualClock>, mail: ReturnType<typeof collector>) {
  const store = openStore({ file: join(folder, 'sightglass.db'), now: clock.now() })
  const ways = new Map([[wayAddress('juniper', 'mail-1'), mail]])
  const teller = createTeller({ store, sites: [site], ways, clock, log: SILENT_LOG, after: clock.after })
  return { store, teller }
}

describe('the outbox of the store', () => {
  it('keeps what waits and forgets nothing that was sent, over restarts', async () => {
    const clock = manualClock(AFTERNOON)
    const mail = collector(clock.now)
    mail.answer = async () => wayDown('no route')
    const first = open(clock, mail)
    for (const row of compose(notice(), site, { now: clock.now(), link: () => null })) first.store.outbox.add(row)
    await first.teller.tick(clock.now())
    first.store.close()

    await clock.advance(2 * MINUTE)
    const second = open(clock, mail)
    expect(second.teller.failingSince('juniper')).toBe(AFTERNOON)
    mail.answer = async () => ({ ok: true })
    await second.teller.tick(clock.now())
    expect(mail.got).toHaveLength(1)
    second.store.close()

    await clock.advance(HOUR)
    const third = open(clock, mail)
    for (const row of compose(notice(), site, { now: clock.now(), link: () => null })) {
      expect(third.store.outbox.add(row)).toBe(false)
    }
    await third.teller.tick(clock.now())
    expect(mail.got).toHaveLength(1)
    expect(third.teller.failingSince('juniper')).toBeNull()
    third.store.close()
  })

  it('turns what was held over a restart into one digest', async () => {
    const night = Date.UTC(2026, 1, 4, 9)
    const clock = manualClock(night)
    const mail = collector(clock.now)
    const first = open(clock, mail)
    for (const key of ['tank-low:', 'battery-low:']) {
      const one = notice('raised', { key, since: night, raised: night })
      for (const row of compose(one, site, { now: night, link: () => null })) first.store.outbox.add(row)
    }
    await first.teller.tick(night)
    first.store.close()
    await clock.advance(6 * HOUR)
    const second = open(clock, mail)
    await second.teller.tick(clock.now())
    await second.teller.tick(clock.now())
    expect(mail.got.map(({ subject }) => subject)).toEqual(['Juniper Bench: 2 messages (2 not cleared)'])
    expect(second.store.outbox.counts()).toEqual({ waiting: 0, sent: 3, failed: 0 })
    second.store.close()
  })
})

describe('a process killed while telling', () => {
  const MESSAGES = 12
  const program = fileURLToPath(new URL('./programs/tell-and-be-killed.ts', import.meta.url))

  function run(file: string, url: string): ChildProcess {
    return spawn(process.execPath, ['--import', 'tsx', program, file, url], { stdio: ['ignore', 'ignore', 'inherit'] })
  }
  const ended = (child: ChildProcess) =>
    new Promise<NodeJS.Signals | null>((resolve) => child.once('exit', (_, killedBy) => resolve(killedBy)))

  it('loses no message, and repeats at most the one that was under way, under the same key', async () => {
    const file = join(folder, 'sightglass.db')
    const filled = openStore({ file, now: Date.now() })
    for (let n = 0; n < MESSAGES; n += 1) {
      filled.outbox.add(
        message({ key: `message ${n}`, about: `freezing:${n}`, way: 'hook-1', at: Date.now(), due: Date.now() }),
      )
    }
    filled.close()

    const got: string[] = []
    let child: ChildProcess | null = null
    // Before the answer leaves, and right after it: once the message is not known to be taken, once it is not noted.
    const kills = new Map([
      [3, 'before'],
      [8, 'after'],
    ])
    const server = createServer((request, response) => {
      request.resume().on('end', () => {
        got.push(String(request.headers['idempotency-key']))
        const when = kills.get(got.length)
        if (when === 'before') child?.kill('SIGKILL')
        response.end(() => {
          if (when === 'after') child?.kill('SIGKILL')
        })
      })
    })
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/`
    const ends: (NodeJS.Signals | null)[] = []
    for (let turn = 0; turn < 3; turn += 1) {
      child = run(file, url)
      ends.push(await ended(child))
    }
    server.closeAllConnections()
    server.close()

    expect(ends).toEqual(['SIGKILL', 'SIGKILL', null])
    const distinct = new Set(got)
    expect(distinct.size).toBe(MESSAGES)
    expect(got.length - distinct.size).toBeLessThanOrEqual(kills.size)
    const left = openStore({ file, now: Date.now() })
    expect(left.outbox.counts()).toEqual({ waiting: 0, sent: MESSAGES, failed: 0 })
    left.close()
  })
})
