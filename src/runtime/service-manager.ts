/**
 * What systemd wants to hear (sd_notify(3)): that the program is ready, and, where the unit has WatchdogSec=, at least
 * every half of that time that it still works; without it systemd starts the program anew. The words go out through
 * systemd's own `systemd-notify`, since Node has no datagram sockets of that kind: the unit needs NotifyAccess=all.
 */
import { execFile } from 'node:child_process'

export type Notify = (words: readonly string[], done: (error: Error | null) => void) => void

export type ServiceManagerOptions = {
  readonly env: Readonly<Record<string, string | undefined>>
  readonly after: (ms: number, run: () => void) => () => void
  readonly log: { warn(fields: object, text: string): void }
  /** What does not work just now; the watchdog is fed only while nothing is listed. */
  readonly failing: () => readonly string[]
  readonly notify?: Notify
}

export type ServiceManager = { ready(): void; stop(): void }

const DEADLINE_MS = 5_000

const bySystemd: Notify = (words, done) => {
  execFile('systemd-notify', [...words], { timeout: DEADLINE_MS }, (error) => done(error))
}

/** Where nothing of systemd is in the environment, this does nothing at all. */
export function createServiceManager(options: ServiceManagerOptions): ServiceManager {
  const { env, after, log, failing, notify = bySystemd } = options
  const watchdogUs = Number(env.WATCHDOG_USEC)
  const everyMs = Number.isFinite(watchdogUs) && watchdogUs > 0 ? watchdogUs / 2_000 : null
  const managed = env.NOTIFY_SOCKET !== undefined && env.NOTIFY_SOCKET !== ''
  let cancel: (() => void) | null = null
  let said = ''

  function say(...words: readonly string[]): void {
    notify(words, (error) => complain(error === null ? '' : error.message, 'systemd could not be told'))
  }

  function complain(words: string, text: string): void {
    if (words !== '' && words !== said) log.warn({ reason: words }, text)
    said = words
  }

  function round(): void {
    if (everyMs === null) return
    cancel = after(everyMs, round)
    const wrong = failing()
    if (wrong.length === 0) say('WATCHDOG=1')
    else complain(wrong.join('; '), 'the watchdog is not fed')
  }

  return {
    ready() {
      if (!managed) return
      say('--ready')
      round()
    },
    stop() {
      cancel?.()
      if (managed) say('STOPPING=1')
    },
  }
}
