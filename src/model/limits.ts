/** Every bound of the program in one place, each with its reason; the relations between them are checked at load. */
import { DAY, HOUR, MINUTE, SECOND } from './time.js'

export const LIMITS = {
  /** A board's message: many firmwares stop at 256 B; a backlog pack may be long. Larger is `too-large`. */
  payloadBytesMax: 64 * 1024,
  /** Records in one pack. */
  recordsMax: 2_000,
  /** Topic length in bytes; MQTT allows 65,535, no board of ours needs it. */
  topicBytesMax: 256,
  connectionsMax: 2_000,
  connectTimeoutMs: 10 * SECOND,
  keepaliveMaxS: 600,
  /** Messages between the brokers and the store. Far above any honest window; reaching it is an alarm. */
  ingestQueueMax: 50_000,
  /** Messages in one commit. */
  commitBatchMax: 2_000,
  /** A commit that takes longer than this is reported by store-failing. */
  commitDeadlineMs: 8 * SECOND,
  keepaliveS: 30,
  /** A board's clock may be this far ahead before its records are `future`. */
  aheadMaxMs: 5 * MINUTE,
  /** Older than this is `too-old`: longer than any backlog a board can hold. */
  ageMaxMs: 60 * DAY,
  /** The engine waits this long for boards whose messages cross. */
  latenessMs: 10 * SECOND,
  /** No alarm is raised for a moment further back than this. */
  staleAlarmMs: 15 * MINUTE,
  /** Event-time grid on which conditions are looked at. */
  tickMs: 15 * SECOND,
  /** Late data are gathered this long before their days are derived again. */
  rederiveAfterMs: 30 * SECOND,
  /** Snapshots of the engine, as points to go back to. */
  snapshotEveryMs: HOUR,
  /** Unreadable messages kept to be looked at. */
  keptAsideMax: 100,
  exampleCharsMax: 120,
  /** One attempt to deliver a message, whole. */
  deliveryDeadlineMs: 60 * SECOND,
  deliveryAgeMaxMs: 48 * HOUR,
  outboxMax: 10_000,
  loginTriesMax: 10,
  selfProbeMs: MINUTE,
  selfProbeMissesMax: 3,
  /** Captures: what a power cut may take of them, and how much is held in memory. */
  captureFlushMs: SECOND,
  captureBufferChars: 64 * 1024,
  capturePieceBytes: 1024 * 1024,
  /** The largest payload with every byte escaped as JSON does it (six characters), with room to spare. */
  captureLineBytesMax: 1024 * 1024,
  /** A compressed capture is unpacked in memory; larger ones are to be unpacked to a file. */
  captureUnpackedBytesMax: 512 * 1024 * 1024,
  /** One client id taken over more often than this a minute: two boards use one name. */
  takeoversPerMinuteMax: 5,
  /** The same complaint is logged at most this often. */
  logRepeatMs: 30 * SECOND,
  /** Client ids longer than this are refused (MQTT 3.1.1 asks for 23 at least). */
  clientIdCharsMax: 64,
  /** Messages taken from an outside broker and not yet acknowledged; when reached, nothing more is read. */
  externalHeldMax: 10_000,
  /** Waits between tries to reach an outside broker: doubled from the first to the last. */
  reconnectFirstMs: SECOND,
  reconnectLastMs: MINUTE,
  /** An outside broker must bring back our own heartbeat; this many misses in a row make a new connection. */
  heartbeatMs: 30 * SECOND,
  heartbeatMissesMax: 3,
  /** One publish of our own, to be taken by the broker. */
  publishDeadlineMs: 10 * SECOND,
  /** Sessions of people at the page; the oldest goes when there are more. */
  sessionsMax: 256,
  sessionAgeMaxMs: 30 * DAY,
  sessionIdleMaxMs: 7 * DAY,
  loginWindowMs: 5 * MINUTE,
  secretCharsMax: 256,
  eventClientsMax: 100,
  eventHeartbeatMs: 20 * SECOND,
  /** Unsent bytes after which a listener that does not read is let go. */
  eventBacklogBytesMax: 64 * 1024,
  chartPointsMax: 2_000,
  chartSpanMaxMs: 1_500 * DAY,
  rowsMax: 1_000,
  daysMax: 800,
  journalCharsMax: 2_000,
  shelveMinutesMax: 7 * 24 * 60,
  maintenanceMinutesMax: 24 * 60,
  requestBytesMax: 16 * 1024,
} as const

function relation(holds: boolean, sentence: string): void {
  if (!holds) throw new Error(`limits.ts: ${sentence}`)
}

relation(LIMITS.commitDeadlineMs * 3 < LIMITS.keepaliveS * SECOND, 'three commit deadlines must fit in a keepalive')
relation(LIMITS.latenessMs < LIMITS.staleAlarmMs, 'the lateness window must be shorter than the age of a stale alarm')
relation(LIMITS.tickMs * 2 + LIMITS.latenessMs < MINUTE, 'two looks and the lateness window must fit in a minute')
relation(LIMITS.snapshotEveryMs % LIMITS.tickMs === 0, 'snapshots must fall on looks')
relation(
  LIMITS.payloadBytesMax * 6 + LIMITS.topicBytesMax * 6 < LIMITS.captureLineBytesMax,
  'a capture line must hold any message',
)
relation(LIMITS.externalHeldMax <= LIMITS.ingestQueueMax, 'what is held must fit in the queue')
relation(LIMITS.commitBatchMax <= LIMITS.ingestQueueMax, 'a commit cannot hold more than the queue')
