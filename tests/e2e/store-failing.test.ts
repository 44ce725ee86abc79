import { spawnSync } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { writeConfig } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { hookSink } from '../support/hook-sink.js'
import { needs } from '../support/needs.js'
import { TestBoard } from './board.js'
import { expectKept } from './load.js'
import { stallSite } from './stall.js'
import { ask, ensureBuilt, folder, pause, startDaemonProgram, until } from './support.js'

const prlimit = needs('prlimit')
/** Contract, section 5: told within 1 min; a look every 15 s and a round of telling come on top of what is measured. */
const TOLD_MS_MAX = 75_000

beforeAll(ensureBuilt)

/** As a full disk does: no file of the process may grow past so many bytes (setrlimit(2), RLIMIT_FSIZE). */
function limitFiles(pid: number, bytes: string): void {
  const done = spawnSync(prlimit ?? '', ['--pid', String(pid), `--fsize=${bytes}:`], { encoding: 'utf8' })
  if (done.status !== 0) throw new Error(`prlimit: ${done.stderr}`)
}

describe.skipIf(prlimit === null)('a store that cannot be written (needs prlimit)', () => {
  it('acknowledges nothing, says so, goes on watching, and stores all of it when there is room', {
    timeout: 200_000,
  }, async () => {
    const path = folder()
    const port = await freePort()
    const hook = await hookSink()
    onTestFinished(() => hook.close())
    writeFileSync(join(path, 'key'), 'a key of our own\n', { mode: 0o600 })
    const config = writeConfig(path, 'site.yaml', {
      ...stallSite('juniper'),
      store: { file: 'juniper.db' },
      broker: { embedded: { host: '127.0.0.1', port, anonymous: true } },
      page: { host: '127.0.0.1', port: await freePort() },
      tell: {
        people: [{ name: 'ops', ways: ['hook'] }],
        ways: { hook: { kind: 'webhook', url: hook.url, secret_file: 'key' } },
        self_test: 'never',
      },
    })
    const daemon = startDaemonProgram(config)
    const { page } = await daemon.listening
    const url = `mqtt://127.0.0.1:${port}`
    const board = new TestBoard({ url, topic: 'water/juniper/pump-board', clientId: 'pump-board' })
    let held = false
    const publish = () => {
      const t = Date.now()
      board.offerPack([
        { key: 'pump-current', t, value: held ? 9 : 0, unit: 'A' },
        { key: 'tank-level', t, value: 0.95, unit: 'm' },
        { key: 'battery-voltage', t, value: held ? 25.4 : 26.2, unit: 'V' },
      ])
    }
    const timer = setInterval(publish, 500)
    onTestFinished(() => clearInterval(timer))
    await until(
      () => board.messagesAcknowledged,
      (count) => count > 4,
      10_000,
      'acknowledgements',
    )
    const status = async () => (await ask(`${page}health`)).status
    expect(await status()).toBe(200)

    const failed = Date.now()
    limitFiles(daemon.pid, '1')
    held = true
    await until(status, (found) => found === 503, 10_000, 'health to say that it fails')
    const taken = board.messagesAcknowledged
    const heard = (alarm: string) => hook.bodies.filter((body) => body.alarm === alarm)
    await until(
      () => heard('store-failing:store').length,
      (count) => count === 1,
      TOLD_MS_MAX,
      'store-failing told',
    )
    const toldAfter = Date.now() - failed
    expect(heard('store-failing:store')[0]).toMatchObject({ site: 'juniper', person: 'ops', priority: 'critical' })
    // The pump's rotor has been held since; its alarm does not wait for the store.
    await until(
      () => heard('pump-stalled:pump').length,
      (count) => count === 1,
      60_000,
      'pump-stalled told',
    )
    expect(daemon.running()).toBe(true)
    expect(board.messagesAcknowledged).toBe(taken)
    expect(board.waiting).toBeGreaterThan(20)

    limitFiles(daemon.pid, 'unlimited')
    await until(
      () => board.waiting,
      (count) => count <= 2,
      60_000,
      'the board to be rid of what it kept',
    )
    await until(status, (found) => found === 200, 30_000, 'health again')
    // What was told past the store is not told again from the outbox.
    await pause(4_000)
    expect(heard('store-failing:store')).toHaveLength(1)
    expect(heard('pump-stalled:pump')).toHaveLength(1)
    clearInterval(timer)
    const alarms = await ask(`${page}api/alarms`)
    expect(JSON.stringify(alarms.body)).toContain('store-failing')
    expect(JSON.stringify(alarms.body)).toContain('pump-stalled')
    await until(
      () => board.waiting,
      (count) => count === 0,
      10_000,
      'the last acknowledgements',
    )
    daemon.signal('SIGTERM')
    expect(await daemon.exited).toEqual({ code: 0, signal: null })
    const { kept } = expectKept(join(path, 'juniper.db'), 'juniper', [board])
    process.stdout.write(`store-failing told after ${Math.round(toldAfter / 1000)} s; ${kept} samples all stored\n`)
  })
})
