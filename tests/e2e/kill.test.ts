import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { exampleFile } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { otherBroker } from '../support/mosquitto.js'
import { needs } from '../support/needs.js'
import { countStored, expectKept, LOAD_BOARDS, startLoad } from './load.js'
import { ensureBuilt, folder, pause, seeded, startDaemonProgram, until } from './support.js'

const SEED = Number(process.env.SEED ?? Date.now() % 1_000_000)
const KILLS = Number(process.env.KILLS ?? 50)
/** One kill in so many comes while the program is still starting. */
const EARLY_EVERY = 6
const LISTEN_MS_MAX = 250
const START_MS_MAX = 400

beforeAll(ensureBuilt)

describe('a daemon that is killed without warning', () => {
  it(`has every acknowledged sample after ${KILLS} kills at random moments under load`, {
    timeout: 240_000,
  }, async () => {
    const random = seeded(SEED)
    const path = folder()
    const port = await freePort()
    const config = exampleFile(path, 'juniper', {
      boards: LOAD_BOARDS,
      lines: [],
      broker: { embedded: { host: '127.0.0.1', port, anonymous: true } },
      page: { host: '127.0.0.1', port: await freePort() },
    })
    const load = startLoad(`mqtt://127.0.0.1:${port}`, 'juniper', 10)
    const acknowledged = () => load.boards.reduce((sum, board) => sum + board.messagesAcknowledged, 0)
    for (let round = 0; round < KILLS; round += 1) {
      const before = acknowledged()
      const daemon = startDaemonProgram(config, ['--log-level', 'info'])
      if (round % EARLY_EVERY === 0) await pause(random() * START_MS_MAX)
      else {
        await daemon.listening
        await until(acknowledged, (count) => count > before, 20_000, `seed ${SEED}, round ${round}: an acknowledgement`)
        await pause(random() * LISTEN_MS_MAX)
      }
      await daemon.kill()
    }
    load.stop()
    const daemon = startDaemonProgram(config)
    await daemon.listening
    await until(
      () => load.boards.reduce((sum, board) => sum + board.waiting, 0),
      (waiting) => waiting === 0,
      30_000,
      'the boards to be rid of all they have',
    )
    daemon.signal('SIGTERM')
    expect(await daemon.exited).toEqual({ code: 0, signal: null })
    const { kept, stored } = expectKept(join(path, 'juniper.db'), 'juniper', load.boards)
    expect(kept).toBeGreaterThan(KILLS * 10)
    const connections = load.boards.reduce((sum, board) => sum + board.connections, 0)
    process.stdout.write(
      `seed ${SEED}: ${KILLS} kills, ${connections} connections, ${acknowledged()} messages acknowledged, ${kept} samples of them all stored, ${stored} in the store\n`,
    )
  })
})

const mosquitto = needs('mosquitto')

describe.skipIf(mosquitto === null)('a daemon at another broker (needs mosquitto)', () => {
  it('stores every message that the broker took, over 6 kills of the daemon', { timeout: 120_000 }, async () => {
    const random = seeded(SEED)
    const path = folder()
    const broker = await otherBroker(mosquitto ?? '')
    const url = `mqtt://127.0.0.1:${broker.port}`
    const config = exampleFile(path, 'juniper', {
      boards: LOAD_BOARDS,
      lines: [],
      broker: { external: { url, client_id: 'sightglass-juniper' } },
      page: { host: '127.0.0.1', port: await freePort() },
    })
    // Its session stands at the broker from the first connection on; what is published before that is nobody's.
    let daemon = startDaemonProgram(config)
    await daemon.listening
    await until(
      () => daemon.log,
      (log) => log.some((line) => line.msg === 'broker: connected'),
      10_000,
      'the connection to the broker',
    )
    const load = startLoad(url, 'juniper', 10)
    for (let round = 0; round < 6; round += 1) {
      await pause(300 + random() * 700)
      await daemon.kill()
      daemon = startDaemonProgram(config)
      await daemon.listening
    }
    load.stop()
    const all = () => load.boards.reduce((sum, board) => sum + board.acknowledged.length, 0)
    await until(
      () => load.boards.reduce((sum, board) => sum + board.waiting, 0),
      (waiting) => waiting === 0,
      20_000,
      'the broker to take all',
    )
    const file = join(path, 'juniper.db')
    await until(
      () => countStored(file, 'juniper'),
      (count) => count >= all(),
      20_000,
      `${all()} samples in the store`,
    )
    daemon.signal('SIGTERM')
    expect(await daemon.exited).toEqual({ code: 0, signal: null })
    const { kept } = expectKept(file, 'juniper', load.boards)
    expect(kept).toBe(all())
    process.stdout.write(`seed ${SEED}: 6 kills at another broker, ${kept} samples all stored\n`)
  })
})
