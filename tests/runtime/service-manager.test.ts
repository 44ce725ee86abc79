import { describe, expect, it } from 'vitest'
import { createServiceManager } from '../../src/runtime/service-manager.js'
import { manualClock } from '../support/manual-clock.js'

const MANAGED = { NOTIFY_SOCKET: '/run/systemd/notify' }

function manager(env: Record<string, string>, failing: string[] = []) {
  const clock = manualClock(0)
  const said: string[] = []
  const complaints: string[] = []
  const made = createServiceManager({
    env,
    after: (ms, run) => clock.after(ms, run),
    log: { warn: (fields, text) => complaints.push(`${text}: ${JSON.stringify(fields)}`) },
    failing: () => failing,
    notify: (words, done) => {
      said.push(words.join(' '))
      done(null)
    },
  })
  return { ...made, clock, said, complaints }
}

describe('the service manager', () => {
  it('is told nothing where the program was not started by it', async () => {
    const { ready, stop, said, clock } = manager({ WATCHDOG_USEC: '60000000' })
    ready()
    await clock.advance(600_000)
    stop()
    expect(said).toEqual([])
  })

  it('hears that the program is ready and that it stops', () => {
    const { ready, stop, said } = manager(MANAGED)
    ready()
    stop()
    expect(said).toEqual(['--ready', 'STOPPING=1'])
  })

  // sd_watchdog_enabled(3): half of the time is the advised interval.
  it('feeds the watchdog each half of its time, and not while a part does not work', async () => {
    const failing: string[] = []
    const { ready, said, clock, complaints } = manager({ ...MANAGED, WATCHDOG_USEC: '60000000' }, failing)
    ready()
    expect(said).toEqual(['--ready', 'WATCHDOG=1'])
    await clock.advance(30_000)
    expect(said.filter((one) => one === 'WATCHDOG=1')).toHaveLength(2)
    failing.push('readings are not looked at')
    await clock.advance(60_000)
    expect(said.filter((one) => one === 'WATCHDOG=1')).toHaveLength(2)
    expect(complaints).toHaveLength(1)
    failing.length = 0
    await clock.advance(30_000)
    expect(said.filter((one) => one === 'WATCHDOG=1')).toHaveLength(3)
  })
})
