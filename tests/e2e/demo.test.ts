import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { freePort } from '../support/free-port.js'
import { ask, ensureBuilt, folder, startProgram, until } from './support.js'

/** A fill takes most of an hour there; at this speed that is two seconds. */
const SPEED = '1500'

beforeAll(ensureBuilt)

const folders = () => readdirSync(tmpdir()).filter((name) => name.startsWith('sightglass-demo-'))

describe('the demo', () => {
  it('prints fills and the alarm of a fault, and its page and its API answer', { timeout: 150_000 }, async () => {
    const before = folders()
    const port = await freePort()
    const demo = startProgram(['demo', '--speed', SPEED, '--port', String(port), '--fault', 'dry-well:middle@3h'])
    const started = Date.now()
    await until(
      () => demo.out,
      (out) => out.some((line) => line.includes('Page: ')),
      60_000,
      'the address of the page',
    )
    const page = /Page: (\S+)/.exec(demo.out.join('\n'))?.[1] ?? ''
    expect(page).toBe(`http://127.0.0.1:${port}/`)
    const fills = () => demo.out.filter((line) => line.startsWith('fill '))
    await until(fills, (lines) => lines.length >= 3, 10_000, 'the last fills of the past')
    const earlier = 3
    expect((await ask(page)).body).toContain('<!doctype html>')
    // The site has lived long enough to know its own figures.
    await until(
      async () => (await ask(`${page}api/now`)).body,
      (body) => JSON.stringify(body).includes('"learning":false'),
      20_000,
      'learned figures',
    )
    await until(fills, (lines) => lines.length > earlier, 30_000, 'a fill')
    expect(fills().at(-1)).toMatch(
      /^fill {3}Thu 14 May \d\d:\d\d {2}[\dhmin ]+, \d+ gal, \d+ Wh, [\d.]+ Wh\/gal; stopped at the high mark$/,
    )
    expect(await ask(`${page}health`)).toMatchObject({ status: 200, body: { status: 'working' } })
    const alarms = () => demo.out.filter((line) => line.startsWith('ALARM'))
    await until(alarms, (lines) => lines.length > 0, 90_000, 'the alarm')
    expect(alarms()[0]).toMatch(/^ALARM {2}\w{3} \d+ May \d\d:\d\d {2}high {2}.*water/)
    expect((await ask(`${page}api/alarms`)).body).toMatchObject({
      active: [expect.objectContaining({ id: 'dry-well', priority: 'high' })],
    })
    // Nothing else was said than what is so.
    expect(alarms()).toHaveLength(1)
    demo.signal('SIGTERM')
    expect(await demo.exited).toEqual({ code: 0, signal: null })
    expect(folders().filter((name) => !before.includes(name))).toEqual([])
    process.stdout.write(`the demo: ${fills().length - earlier} fills and an alarm in ${Date.now() - started} ms\n`)
  })

  it('ends with its words where a fault is none, and leaves nothing behind', async () => {
    const keep = join(folder(), 'kept')
    const demo = startProgram(['demo', '--fault', 'flood@1d', '--keep', keep])
    expect(await demo.exited).toEqual({ code: 2, signal: null })
    const said = demo.log.map((line) => line.msg).join('\n')
    expect(said).toContain('no fault is called "flood"')
    expect(said).toContain('--fault')
    expect(existsSync(join(keep, 'sightglass.db'))).toBe(false)
  })

  it('takes its boards with it however it ends', async () => {
    const keep = join(folder(), 'kept')
    const demo = startProgram(['demo', '--past', '0.1', '--port', String(await freePort()), '--keep', keep])
    await until(
      () => demo.out,
      (out) => out.some((line) => line.includes('Page: ')),
      60_000,
      'the address of the page',
    )
    const children = () => childrenOf(demo.pid)
    const boards = children()
    expect(boards).toHaveLength(1)
    await demo.kill()
    await until(
      () => boards.filter((pid) => existsSync(`/proc/${pid}`)),
      (left) => left.length === 0,
      10_000,
      'the end of the boards',
    )
  })
})

/** Process ids of the children of a process (Linux). */
function childrenOf(pid: number): readonly string[] {
  return readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .filter((name) => parentOf(name) === pid)
}

function parentOf(pid: string): number | null {
  try {
    return Number(/^PPid:\s+(\d+)$/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1])
  } catch {
    return null
  }
}
