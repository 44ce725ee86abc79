import type { AddressInfo } from 'node:net'
import { createServer, type Socket } from 'node:net'
import fc from 'fast-check'
import { SMTPServer, type SMTPServerOptions } from 'smtp-server'
import { afterEach, describe, expect, it } from 'vitest'
import type { Message } from '../../src/model/message.js'
import type { WaySettings } from '../../src/model/settings.js'
import { DAY } from '../../src/model/time.js'
import { afterTimeout, attempt } from '../../src/tell/attempt.js'
import { stableId } from '../../src/tell/key.js'
import { createEmailWay } from '../../src/tell/ways/email.js'
import { AFTERNOON, MAIL, message } from './support.js'

type EmailSettings = WaySettings & { kind: 'email' }
type Mail = { readonly from: string; readonly to: readonly string[]; readonly raw: string }

const closers: (() => void)[] = []
afterEach(() => {
  for (const close of closers.splice(0)) close()
})

/** A real SMTP server on loopback that keeps what it takes. */
async function smtp(options: SMTPServerOptions = {}, host = '127.0.0.1'): Promise<{ port: number; mails: Mail[] }> {
  const mails: Mail[] = []
  const server = new SMTPServer({
    authOptional: true,
    disabledCommands: ['STARTTLS'],
    disableReverseLookup: true,
    onData(stream, session, callback) {
      const pieces: Buffer[] = []
      stream.on('data', (piece: Buffer) => pieces.push(piece))
      stream.on('end', () => {
        const { mailFrom, rcptTo } = session.envelope
        mails.push({
          from: mailFrom === false ? '' : mailFrom.address,
          to: rcptTo.map(({ address }) => address),
          raw: Buffer.concat(pieces).toString('utf8'),
        })
        callback()
      })
    },
    ...options,
  })
  server.on('error', () => {})
  await new Promise<void>((resolve) => server.listen(0, host, resolve))
  closers.push(() => server.close())
  return { port: (server.server.address() as AddressInfo).port, mails }
}

/** A TCP server that is no mail server at all. */
async function tcp(onSocket: (socket: Socket) => void): Promise<{ port: number; sockets: Set<Socket> }> {
  const sockets = new Set<Socket>()
  const server = createServer((socket) => {
    sockets.add(socket)
    socket.on('error', () => {})
    socket.on('close', () => sockets.delete(socket))
    onSocket(socket)
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  closers.push(() => {
    for (const socket of sockets) socket.destroy()
    server.close()
  })
  return { port: (server.address() as AddressInfo).port, sockets }
}

function send(port: number, changes: Partial<Message> = {}, settings: Partial<EmailSettings> = {}, deadlineMs = 5_000) {
  const way = createEmailWay({ ...(MAIL as EmailSettings), port, ...settings }, () => AFTERNOON)
  return attempt(way, message(changes), afterTimeout, deadlineMs)
}

function smtpError(responseCode: number, words: string): Error {
  return Object.assign(new Error(words), { responseCode })
}

/** Header fields of a mail by lower-case name, folded lines joined (RFC 5322, section 2.2.3). */
function headersOf(raw: string): ReadonlyMap<string, string> {
  const head = raw.slice(0, raw.indexOf('\r\n\r\n')).replace(/\r\n[ \t]+/g, ' ')
  return new Map(
    head.split('\r\n').map((line) => {
      const colon = line.indexOf(':')
      return [line.slice(0, colon).toLowerCase(), line.slice(colon + 1).trim()]
    }),
  )
}

describe('an email', () => {
  it('arrives with text and HTML, says that a machine sent it, and has an id of its own', async () => {
    const { port, mails } = await smtp()
    expect(await send(port)).toEqual({ ok: true })
    const [mail] = mails
    expect(mail).toMatchObject({ from: 'sightglass@juniper.example', to: ['ops@town.example'] })
    const headers = headersOf(mail?.raw ?? '')
    expect(headers.get('subject')).toBe('Juniper Bench: The pump runs and no water arrives')
    expect(headers.get('auto-submitted')).toBe('auto-generated')
    expect(headers.get('message-id')).toBe(`<${stableId(message().key)}@juniper.example>`)
    expect(headers.get('content-type')).toContain('multipart/alternative')
    expect(mail?.raw).toContain('text/plain')
    expect(mail?.raw).toContain('text/html')
    expect(mail?.raw).toContain('The pump has been running light since 14:05.')
  })

  it('has the same id each time it is sent', async () => {
    const { port, mails } = await smtp()
    await send(port)
    await send(port)
    const ids = mails.map(({ raw }) => headersOf(raw).get('message-id'))
    expect(ids[0]).toBe(ids[1])
    expect(ids).toHaveLength(2)
  })

  it('to a text-message gateway is the short form alone, without a subject that would be put before it', async () => {
    const { port, mails } = await smtp()
    await send(port, {}, { short: true })
    const raw = mails[0]?.raw ?? ''
    expect(headersOf(raw).get('content-type')).toContain('text/plain')
    expect(raw).not.toContain('text/html')
    expect(headersOf(raw).has('subject')).toBe(false)
    expect(raw.slice(raw.indexOf('\r\n\r\n')).trim()).toBe(message().short)
  })

  it('is kept for later on a 4yz answer and goes through when the server takes it', async () => {
    let asked = 0
    const { port, mails } = await smtp({
      onRcptTo(_, __, callback) {
        asked += 1
        callback(asked === 1 ? smtpError(450, 'greylisted, come back later') : null)
      },
    })
    const first = await send(port)
    expect(first).toMatchObject({ ok: false, retry: true, wholeWay: false, error: expect.stringContaining('450') })
    expect(await send(port)).toEqual({ ok: true })
    expect(mails).toHaveLength(1)
  })

  it('is given up on a 5yz answer', async () => {
    const { port } = await smtp({ onRcptTo: (_, __, callback) => callback(smtpError(550, 'no such mailbox')) })
    expect(await send(port)).toMatchObject({
      ok: false,
      retry: false,
      error: expect.stringContaining('no such mailbox'),
    })
  })

  it('is kept for a day where the login is refused, without telling the password', async () => {
    const { port } = await smtp({
      authOptional: false,
      allowInsecureAuth: true,
      onAuth: (_, __, callback) => callback(smtpError(535, 'authentication failed')),
    })
    const result = await send(port, {}, { username: 'ops', password: 'pass phrase' })
    expect(result).toMatchObject({ ok: false, retry: true, wholeWay: true, waitMs: DAY })
    expect(JSON.stringify(result)).not.toContain('pass phrase')
  })

  it('logs in and is delivered where the login is good', async () => {
    const { port, mails } = await smtp({
      authOptional: false,
      allowInsecureAuth: true,
      onAuth: ({ username, password }, _, callback) =>
        username === 'ops' && password === 'pass phrase'
          ? callback(null, { user: 'ops' })
          : callback(smtpError(535, 'authentication failed')),
    })
    expect(await send(port, {}, { username: 'ops', password: 'pass phrase' })).toEqual({ ok: true })
    expect(mails).toHaveLength(1)
  })

  it('is cut off by the deadline at a server that accepts and never greets, and lets the connection go', async () => {
    const { port, sockets } = await tcp(() => {})
    const began = performance.now()
    expect(await send(port, {}, {}, 200)).toMatchObject({ ok: false, retry: true, wholeWay: true })
    expect(performance.now() - began).toBeLessThan(2_000)
    await expect.poll(() => sockets.size, { timeout: 2_000 }).toBe(0)
  })

  it('is cut off by the deadline at a server that drips its greeting for ever', async () => {
    const { port, sockets } = await tcp((socket) => {
      const drip = setInterval(() => socket.write('220-still here\r\n'), 20)
      socket.on('close', () => clearInterval(drip))
    })
    expect(await send(port, {}, {}, 200)).toMatchObject({ ok: false, retry: true, wholeWay: true })
    await expect.poll(() => sockets.size, { timeout: 7_000 }).toBe(0)
  })

  it('reports a refused connection and a server that hangs up', async () => {
    const gone = await tcp((socket) => socket.destroy())
    expect(await send(gone.port)).toMatchObject({ ok: false, retry: true, wholeWay: true })
    expect(await send(1)).toMatchObject({
      ok: false,
      retry: true,
      wholeWay: true,
      error: expect.stringMatching(/ECONNREFUSED/),
    })
  })

  it('never sends a password in the clear to another machine', async () => {
    // Not one of the names by which the way knows this machine, so it stands for another. It offers no STARTTLS.
    const heard: string[] = []
    const server: SMTPServerOptions = {
      allowInsecureAuth: true,
      onAuth({ password }, _, callback) {
        heard.push(String(password))
        callback(null, { user: 'ops' })
      },
    }
    const { port, mails } = await smtp(server, '127.0.0.2')
    const login = { host: '127.0.0.2', username: 'ops', password: 'pass phrase' }
    expect(await send(port, {}, login)).toMatchObject({ ok: false, error: expect.stringMatching(/STARTTLS/) })
    expect(heard).toEqual([])
    expect(mails).toEqual([])
    // The same without a login is delivered, so it was not the address that failed.
    expect(await send(port, {}, { host: '127.0.0.2' })).toEqual({ ok: true })
  })
})

describe('an email under attack', () => {
  const attacks = [
    'Tank\r\nBcc: thief@bad.example',
    'Tank\nBcc: thief@bad.example\n\nbody',
    'Tank\u2028Bcc: thief@bad.example',
    'Tank\0\r\n.\r\nMAIL FROM:<thief@bad.example>',
    '=?utf-8?q?x=0d=0aBcc:_thief=40bad.example?=',
  ]

  it.each(attacks)('keeps its header fields whatever the subject is: %j', async (subject) => {
    const { port, mails } = await smtp()
    expect(await send(port, { subject, text: `${subject}\r\n.\r\nQUIT\r\n` })).toEqual({ ok: true })
    expect(mails).toHaveLength(1)
    const [mail] = mails
    expect(mail?.to).toEqual(['ops@town.example'])
    const names = [...headersOf(mail?.raw ?? '').keys()].sort()
    expect(names).toEqual(
      ['auto-submitted', 'content-type', 'date', 'from', 'message-id', 'mime-version', 'subject', 'to'].sort(),
    )
  })

  it('keeps its header fields for any subject, key and site name', async () => {
    const { port, mails } = await smtp()
    await fc.assert(
      fc.asyncProperty(
        fc.string({ unit: 'binary', maxLength: 80 }),
        fc.string({ unit: 'binary', maxLength: 40 }),
        async (subject, key) => {
          mails.length = 0
          expect(await send(port, { subject, key })).toEqual({ ok: true })
          const headers = headersOf(mails[0]?.raw ?? '')
          expect(headers.has('bcc')).toBe(false)
          expect(headers.get('message-id')).toMatch(/^<[0-9a-f]{32}@juniper\.example>$/)
          expect(headers.size).toBe(8)
        },
      ),
      { numRuns: 12 },
    )
  })
})
