import type { Ms } from './time.js'

/** What the daemon knows of itself and the judge cannot see in samples. Times are the daemon's own clock. */
export type DaemonFacts = {
  /** Since when commits have failed without a success between; null: the store works. */
  readonly storeFailingSince: Ms | null
  /** What the store answered, for people. */
  readonly storeError: string | null
  /** Since when no message has got through by any way although one was due; null: telling works. */
  readonly tellingFailingSince: Ms | null
  readonly tellingError: string | null
  /**
   * When the daemon began to listen: nobody is called silent for the time in which nobody listened. Null where
   * that has no meaning (replay).
   */
  readonly listeningSince: Ms | null
  /** Boards whose times jump or lie ahead, since when, and by how much ahead (s; null: not known). */
  readonly suspectClocks: readonly {
    readonly board: string
    readonly since: Ms
    readonly aheadS: number | null
    /** It had the time and has lost it: its stamps are of a clock that was never set. */
    readonly lost?: boolean
  }[]
  /** Boards that talk, and nothing of what they say can be read: since when, messages, and the latest reason. */
  readonly unreadable: readonly {
    readonly board: string
    readonly since: Ms
    readonly count: number
    readonly reason: string
  }[]
  /** Names under which two boards connect and push each other out, and how often within two minutes. */
  readonly twoBoards: readonly { readonly board: string; readonly since: Ms; readonly takeovers: number }[]
}

/** A daemon with nothing to say of itself. */
export const DAEMON_WELL: DaemonFacts = Object.freeze({
  storeFailingSince: null,
  storeError: null,
  tellingFailingSince: null,
  tellingError: null,
  listeningSince: null,
  suspectClocks: [],
  unreadable: [],
  twoBoards: [],
})
