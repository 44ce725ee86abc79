import { dirname, join } from 'node:path'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { HOUR } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'
import { signLink } from '../../src/tell/ack-link.js'
import { launch, look, PHONE } from '../browser/browser.js'
import { type Tree, writeConfig } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { type MailSink, mailSink } from '../support/mail-sink.js'
import { needs } from '../support/needs.js'
import { TestBoard } from './board.js'
import { offerStall, stallSite } from './stall.js'
import { ask, ensureBuilt, folder, type Program, startDaemonProgram, until } from './support.js'

const chromium = needs('chromium')

beforeAll(ensureBuilt)

type Scene = { readonly page: string; readonly mail: MailSink; readonly daemon: Program; readonly board: TestBoard }

/** A daemon that has just raised an alarm and mailed it. */
async function stalledPump(pageSettings: (port: number) => Tree): Promise<Scene> {
  const mail = await mailSink()
  onTestFinished(() => mail.close())
  const port = await freePort()
  const config = writeConfig(folder(), 'site.yaml', {
    ...stallSite('juniper'),
    store: { file: 'juniper.db' },
    broker: { embedded: { host: '127.0.0.1', port, anonymous: true } },
    page: pageSettings(await freePort()),
    tell: {
      people: [{ name: 'ops', ways: ['mail'] }],
      ways: {
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
  // What comes late is looked at after half a minute, or at the next start: this is the quicker.
  const first = startDaemonProgram(config)
  await first.listening
  const topic = { url: `mqtt://127.0.0.1:${port}`, topic: 'water/juniper/pump-board', clientId: 'pump-board' }
  const board = new TestBoard(topic)
  offerStall(board, Date.now(), [4, 0])
  await until(
    () => board.waiting,
    (count) => count === 0,
    10_000,
    'the acknowledgements',
  )
  await first.kill()
  const daemon = startDaemonProgram(config)
  const { page } = await daemon.listening
  await until(
    () => mail.mails.length,
    (count) => count === 1,
    20_000,
    'the mail',
  )
  return { page, mail, daemon, board }
}

const alarms = async (page: string) => (await ask(`${page}api/alarms`)).body

/** The text of a mail whose lines were folded and whose signs were quoted (RFC 2045, 6.7). */
function plain(mail: string): string {
  return mail
    .replace(/=\r\n/g, '')
    .replace(/=([0-9A-F]{2})/g, (_all, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)))
}

describe.skipIf(chromium === null)('the page of a running daemon (needs chromium)', () => {
  it('shows the alarm, and a click on it acknowledges it for everybody, also after a kill', async () => {
    const { page, daemon } = await stalledPump((port) => ({ host: '127.0.0.1', port }))
    const browser = await launch(chromium ?? '')
    onTestFinished(() => browser.close())
    const { page: tab, complaints } = await look(browser, page, PHONE)
    await tab.waitForSelector('.alarm >> text=Pump is jammed', { timeout: 10_000 })
    await tab.click('text=I have seen it')
    await tab.waitForSelector('text=seen by owner')
    expect(await alarms(page)).toMatchObject({
      active: [expect.objectContaining({ id: 'pump-stalled', state: 'acknowledged', acknowledged_by: 'owner' })],
    })
    expect(complaints).toEqual([])
    await daemon.kill()
    const again = startDaemonProgram(daemon.config)
    const { page: same } = await again.listening
    await until(
      () => alarms(same),
      (body) => JSON.stringify(body).includes('"state":"acknowledged"'),
      10_000,
      'the acknowledgement after a kill',
    )
  })
})

describe('the link in a message', () => {
  it('shows a button and changes nothing when it is only fetched, acknowledges when pressed, twice as once', async () => {
    const { page, mail, daemon } = await stalledPump((port) => ({
      host: '127.0.0.1',
      port,
      address: `http://127.0.0.1:${port}/`,
    }))
    const [link = ''] = /http:\/\/127\.0\.0\.1:\d+\/ack\/[\w.-]+/.exec(plain(mail.mails[0] ?? '')) ?? []
    expect(link.startsWith(`${page}ack/`)).toBe(true)
    const shown = await ask(link)
    expect(shown).toMatchObject({ status: 200, body: expect.stringContaining('<button type="submit">') })
    expect(await alarms(page)).toMatchObject({ active: [{ state: 'unacknowledged' }] })
    // A link to an earlier occurrence, rightly signed, leaves the one of now alone.
    const store = openStore({ file: join(dirname(daemon.config), 'juniper.db'), now: Date.now(), readOnly: true })
    const [active] = store.alarms.active('juniper')
    const expires = Date.now() + HOUR
    const raised = (active?.raised ?? 0) - HOUR
    const earlier = signLink(store.secret('acknowledge-links'), 'juniper', active?.key ?? '', raised, 'ops', expires)
    store.close()
    expect(await ask(`${page}ack/${earlier}`, { method: 'POST' })).toMatchObject({ status: 200 })
    expect(await alarms(page)).toMatchObject({ active: [{ state: 'unacknowledged' }] })
    for (const _time of ['once', 'twice']) {
      expect(await ask(link, { method: 'POST' })).toMatchObject({
        status: 200,
        body: expect.stringContaining('Acknowledged'),
      })
      expect(await alarms(page)).toMatchObject({ active: [{ state: 'acknowledged', acknowledged_by: 'ops' }] })
    }
    const at = link.length - 5
    const forged = `${link.slice(0, at)}${link[at] === 'A' ? 'B' : 'A'}${link.slice(at + 1)}`
    expect((await ask(forged, { method: 'POST' })).status).toBe(404)
  })
})
