/**
 * "All is well", outward, so that a listener elsewhere notices when it stops: the only alarm that still works when
 * this machine does not. A beat goes out only when receiving, looking, judging and a commit made for it have all
 * worked just now; when one has not, there is no beat at all.
 */
import type { BeatSettings } from '../model/settings.js'
import { type Ms, SECOND } from '../model/time.js'
import { type After, errorWords } from './attempt.js'
import type { TellLog } from './deliver.js'
import { signedPost } from './signed-post.js'
import { resultOf } from './ways/webhook.js'

export type BeatState = {
  /** When the listener last took a beat. */
  readonly sentAt: Ms | null
  /** Why the last tick sent nothing, or what the listener said; null: it went out. */
  readonly trouble: string | null
}

export type BeatOptions = {
  readonly settings: BeatSettings
  /** Ids of the sites that this daemon watches. */
  readonly sites: readonly string[]
  readonly clock: { now(): Ms }
  readonly after: After
  readonly log: TellLog
  /**
   * Proves that the whole line works, by doing: looks at each part and commits something. Answers with the parts
   * that did not; a throw counts as one.
   */
  readonly prove: () => readonly string[]
}

export type Beat = {
  state(): BeatState
  /** One tick: proves, then sends. */
  tick(): Promise<void>
  start(): void
  stop(): void
}

/** An answer that has not come by then is none; well under the shortest interval. */
const DEADLINE_MS = 20 * SECOND

export function createBeat({ settings, sites, clock, after, log, prove }: BeatOptions): Beat {
  let sentAt: Ms | null = null
  let trouble: string | null = null
  let count = 0
  let cancel: (() => void) | null = null
  let stopped = false

  function note(words: string | null): void {
    if (words !== null && words !== trouble) log.warn({ trouble: words }, 'no beat sent')
    if (words === null && trouble !== null) log.info({}, 'the beat goes out again')
    trouble = words
  }

  async function tick(): Promise<void> {
    const failing = proved()
    if (failing.length > 0) {
      note(`held back: ${failing.join('; ')}`)
      return
    }
    const abort = new AbortController()
    const callOff = after(DEADLINE_MS, () => abort.abort())
    count += 1
    const at = clock.now()
    const body = JSON.stringify({ version: 1, at: new Date(at).toISOString(), count, every_s: settings.everyS, sites })
    const result = await signedPost({
      url: settings.url,
      secret: settings.secret,
      body,
      now: () => clock.now(),
      signal: abort.signal,
      read: (status, response) => resultOf(status, response.headers['retry-after'], clock.now()),
    })
    callOff()
    if (result.ok) sentAt = at
    note(result.ok ? null : result.error)
  }

  function proved(): readonly string[] {
    try {
      return prove()
    } catch (error) {
      return [errorWords(error)]
    }
  }

  function round(): void {
    if (stopped) return
    cancel = after(settings.everyS * SECOND, round)
    void tick().catch((error: unknown) => note(errorWords(error)))
  }

  return {
    state: () => ({ sentAt, trouble }),
    tick,
    start: round,
    stop() {
      stopped = true
      cancel?.()
    },
  }
}
