import { type ChildProcess, spawn } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { connect, createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'

/** An MQTT broker that is not ours, on a free loopback port; its sessions outlive a restart. */
export type OtherBroker = {
  readonly port: number
  start(): Promise<void>
  /** Ends it and waits until it has gone; `SIGSTOP` and `SIGCONT` only stop and wake it. */
  signal(name: 'SIGTERM' | 'SIGKILL' | 'SIGSTOP' | 'SIGCONT'): Promise<void>
}

/** Starts one from the program at `path`, with further lines of its configuration; ended with the test. */
export async function otherBroker(path: string, lines: readonly string[] = [], acl?: string): Promise<OtherBroker> {
  const folder = mkdtempSync(join(tmpdir(), 'broker-'))
  const port = await freePort()
  const file = join(folder, 'broker.conf')
  const aclFile = join(folder, 'acl')
  if (acl !== undefined) writeFileSync(aclFile, acl, { mode: 0o600 })
  const access = acl === undefined ? [] : [`acl_file ${aclFile}`]
  const base = [`listener ${port} 127.0.0.1`, 'allow_anonymous true', 'user root', 'persistence true']
  writeFileSync(file, [...base, `persistence_location ${folder}/`, ...access, ...lines, ''].join('\n'))
  let running: ChildProcess | null = null
  const broker: OtherBroker = {
    port,
    async start() {
      running = spawn(path, ['-c', file], { stdio: 'ignore' })
      await answers(port)
    },
    async signal(name) {
      const child = running
      if (child === null) return
      const ends = name === 'SIGTERM' || name === 'SIGKILL'
      const gone = new Promise<void>((resolve) => child.once('exit', () => resolve()))
      child.kill(name)
      if (!ends) return
      running = null
      await gone
    },
  }
  onTestFinished(async () => {
    await broker.signal('SIGKILL')
    rmSync(folder, { recursive: true, force: true })
  })
  await broker.start()
  return broker
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1')
  await new Promise<void>((resolve) => server.once('listening', () => resolve()))
  const address = server.address()
  await new Promise<void>((resolve) => server.close(() => resolve()))
  if (typeof address !== 'object' || address === null) throw new Error('no free port')
  return address.port
}

async function answers(port: number): Promise<void> {
  for (let tries = 0; tries < 200; tries++) {
    const up = await new Promise<boolean>((resolve) => {
      const socket = connect(port, '127.0.0.1')
      socket.once('connect', () => resolve(true))
      socket.once('error', () => resolve(false))
      socket.once('connect', () => socket.destroy())
    })
    if (up) return
    await new Promise((resolve) => setTimeout(resolve, 25))
  }
  throw new Error(`the broker on port ${port} does not answer`)
}
