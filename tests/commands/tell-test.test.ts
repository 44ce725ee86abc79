import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it, onTestFinished } from 'vitest'
import { exampleFile } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { mailSink } from '../support/mail-sink.js'
import { folder, lines, verb } from './support.js'

const mail = (port: number) => ({
  kind: 'email',
  smtp: { host: '127.0.0.1', port, secure: false },
  from: 'water@juniper.example',
  to: 'ops@town.example',
})

async function hookSink(): Promise<{ port: number; bodies: string[] }> {
  const bodies: string[] = []
  const server = createServer((request, response) => {
    let body = ''
    request.setEncoding('utf8').on('data', (piece: string) => {
      body += piece
    })
    request.on('end', () => {
      bodies.push(body)
      response.writeHead(204).end()
    })
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  onTestFinished(() => void server.close())
  return { port: (server.address() as AddressInfo).port, bodies }
}

describe('tell-test', () => {
  it('sends a marked test through every way, and says what each answered', async () => {
    const sink = await mailSink()
    onTestFinished(() => sink.close())
    const hook = await hookSink()
    const path = folder()
    writeFileSync(join(path, 'key'), 'a key of our own\n', { mode: 0o600 })
    const config = exampleFile(path, 'juniper', {
      tell: {
        people: [{ name: 'ops', ways: ['mail-1', 'hook-1'] }],
        ways: {
          'mail-1': mail(sink.port),
          'hook-1': { kind: 'webhook', url: `http://127.0.0.1:${hook.port}/water`, secret_file: 'key' },
        },
      },
    })
    const { code, out, err } = await verb(['tell-test', '--config', config])
    expect({ code, err }).toEqual({ code: 0, err: '' })
    expect([...lines(out)].sort()).toEqual([
      'juniper  hook-1 (webhook, to ops): sent',
      'juniper  mail-1 (email, to ops): sent',
    ])
    expect(sink.mails).toHaveLength(1)
    expect(sink.mails[0]).toMatch(/^Subject: .*TEST/m)
    expect(sink.mails[0]).toMatch(/^To: ops@town\.example/m)
    expect(hook.bodies).toHaveLength(1)
    expect(JSON.parse(hook.bodies[0] ?? '')).toMatchObject({ site: 'juniper', kind: 'test' })
  })

  it('names the way that failed and why, still tries the others, and exits with 1', async () => {
    const sink = await mailSink()
    onTestFinished(() => sink.close())
    const closed = await freePort()
    const config = exampleFile(folder(), 'juniper', {
      tell: {
        people: [{ name: 'ops', ways: ['gone', 'good'] }],
        ways: { gone: mail(closed), good: mail(sink.port) },
      },
    })
    const { code, out, err } = await verb(['tell-test', '--config', config])
    expect(code).toBe(1)
    expect(err).toBe('1 way of telling failed\n')
    expect(out).toMatch(/juniper {2}gone \(email, to ops\): failed: .*refused/i)
    expect(out).toContain('juniper  good (email, to ops): sent')
    expect(sink.mails).toHaveLength(1)
  })

  it('says so where nobody can be told', async () => {
    const config = exampleFile(folder(), 'juniper', { tell: { people: [], ways: {} } })
    expect(await verb(['tell-test', '--config', config])).toEqual({
      code: 0,
      out: 'juniper: no way of telling is configured\n',
      err: '',
    })
  })
})
