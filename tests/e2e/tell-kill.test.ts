import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { openStore } from '../../src/record/store.js'
import { writeConfig } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { hookSink } from '../support/hook-sink.js'
import { mailSink } from '../support/mail-sink.js'
import { TestBoard } from './board.js'
import { offerStall, stallSite } from './stall.js'
import { ensureBuilt, folder, pause, seeded, startDaemonProgram, until } from './support.js'

const SEED = Number(process.env.SEED ?? Date.now() % 1_000_000)
const KILLS = 20
/** From the start to the last message told takes about this long. */
const STORY_MS = 2_500

beforeAll(ensureBuilt)

describe('a daemon that is killed while it raises and tells alarms', () => {
  it(`loses no message in ${KILLS} kills, and sends at most one twice`, { timeout: 180_000 }, async () => {
    const random = seeded(SEED)
    const path = folder()
    const hook = await hookSink()
    const mail = await mailSink()
    onTestFinished(() => {
      hook.close()
      mail.close()
    })
    const port = await freePort()
    writeFileSync(join(path, 'hook-key'), 'a key of our own\n', { mode: 0o600 })
    writeConfig(path, 'daemon.yaml', {
      store: { file: 'water.db' },
      broker: { embedded: { host: '127.0.0.1', port, anonymous: true } },
      page: { host: '127.0.0.1', port: await freePort() },
      tell: {
        people: [{ name: 'ops', ways: ['hook', 'mail'] }],
        ways: {
          hook: { kind: 'webhook', url: hook.url, secret_file: 'hook-key' },
          mail: {
            kind: 'email',
            smtp: { host: '127.0.0.1', port: mail.port, secure: false },
            from: 'water@juniper.example',
            to: 'ops@town.example',
          },
        },
        self_test: 'never',
      },
    })
    const sites = Array.from({ length: KILLS }, (_, round) => `s${String(round).padStart(2, '0')}`)
    for (const id of sites) writeConfig(path, `${id}.yaml`, stallSite(id))

    let toldBefore = 0
    for (const [round, id] of sites.entries()) {
      const daemon = startDaemonProgram(path)
      await daemon.listening
      const url = `mqtt://127.0.0.1:${port}`
      const board = new TestBoard({ url, topic: `water/${id}/pump-board`, clientId: `${id}-pump-board` })
      offerStall(board, Date.now(), [4, 0])
      await pause(random() * STORY_MS)
      // What came late is looked at half a minute later, or at the next start: the last round's alarm is told in this.
      if (hook.bodies.some((body) => body.site === sites[round - 1])) toldBefore += 1
      await daemon.kill()
    }

    const daemon = startDaemonProgram(path)
    await daemon.listening
    const told = () =>
      sites.filter((id) => hook.bodies.some((body) => body.site === id && body.alarm === 'pump-stalled:pump'))
    await until(
      () => told().length,
      (count) => count === KILLS,
      30_000,
      `seed ${SEED}: every alarm told`,
    )
    const store = () => openStore({ file: join(path, 'water.db'), now: Date.now(), readOnly: true })
    const waiting = () => {
      const open = store()
      const { waiting: count } = open.outbox.counts()
      open.close()
      return count
    }
    await until(waiting, (count) => count === 0, 20_000, 'an empty outbox')
    daemon.signal('SIGTERM')
    expect(await daemon.exited).toEqual({ code: 0, signal: null })

    const left = store()
    const rows = sites.flatMap((id) => left.outbox.list(id, 100))
    left.close()
    expect(rows.filter((row) => row.state !== 'sent')).toEqual([])
    const ids = hook.bodies.map((body) => String(body.id))
    const byHook = rows.filter((row) => row.way === 'hook')
    const byMail = rows.filter((row) => row.way === 'mail')
    expect(new Set(ids).size).toBe(byHook.length)
    const messageIds = mail.mails.map((text) => /^Message-ID: (.*)\r$/im.exec(text)?.[1] ?? text)
    expect(new Set(messageIds).size).toBe(byMail.length)
    const twice = ids.length - byHook.length + (messageIds.length - byMail.length)
    expect(twice).toBeLessThanOrEqual(1)
    process.stdout.write(
      `seed ${SEED}: ${KILLS} kills (${toldBefore} after the message was out), ${byHook.length + byMail.length} messages to tell, all told, ${twice} of them twice\n`,
    )
  })
})
