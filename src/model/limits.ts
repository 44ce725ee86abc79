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
  commitBatchMax: 5_000,
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
  /** Alarms that one site can have open at once; more would be a fault of the judge, not of the site. */
  alarmEntriesMax: 500,
  /** Raises of one alarm remembered within a day; a chattering one says "100 or more". */
  raisesKeptMax: 100,
  /** Outages remembered for the site's own usual; each longer one forgets the shorter before it. */
  outagesKeptMax: 200,
  /** A shelf is for days, not for ever. */
  shelveMaxMs: 7 * DAY,
  /** An all-clear waits until the alarm has been normal this long, so that a flutter is one story. */
  settleMs: 5 * MINUTE,
  /** An alarm that came and went is over when it has been normal this long. */
  onAndOffNormalMs: 6 * HOUR,
  /** Messages about one alarm in a day, the all-clear included. */
  noticesInDayMax: 3,
  /** The all-clear of a cause waits this long for its consequences to end with it. */
  groupHoldMs: 4 * HOUR,
  /** Alarms of one kind that begin within this time of each other are one story. */
  siblingWindowMs: 30 * MINUTE,
  /** An alarm that returned by itself and that nobody acknowledged leaves the list after this. */
  returnedKeptMs: 7 * DAY,
  /** Event-time grid on which conditions are looked at. */
  tickMs: 15 * SECOND,
  /** Late data are gathered this long before their days are derived again. */
  rederiveAfterMs: 30 * SECOND,
  /** So many late samples of one site are a flood, as of a board that empties its memory: its end is waited for. */
  floodSamples: 2_000,
  /** A flood has ended when nothing late has come for this long; it is not waited for beyond the longest. */
  floodPauseMs: 3 * SECOND,
  floodWaitMaxMs: 5 * MINUTE,
  /** Snapshots of the engine, as points to go back to. */
  snapshotEveryMs: HOUR,
  /** Samples of days not yet sealed, in memory (16 B each); above it days are sealed early. */
  openSamplesMax: 4_000_000,
  /** A UTC day is sealed this long after its end: backlogs of a day still land in memory. */
  sealAfterMs: DAY,
  /** Samples sealed in one go: some 100 ms on a small board, so that receiving goes on in between. */
  sealSamplesMax: 250_000,
  /** Samples of sealed days kept unpacked for the next reader. */
  unpackedSamplesMax: 1_000_000,
  /** A chart is drawn from samples up to this many, from hourly roll-ups beyond. */
  chartSamplesMax: 500_000,
  chartPointsMax: 2_000,
  /** Hourly roll-ups are kept this long, daily ones for ever. */
  keepHourlyDays: 1_200,
  /** The write-ahead log is cut back to this after a checkpoint. */
  walBytesMax: 16 * 1024 * 1024,
  /** Rows of the table of refusals per site; beyond, boards are counted together. */
  refusalRowsMax: 500,
  /** Engine snapshots: hourly for this long, then one a day. */
  snapshotHourlyMs: 3 * DAY,
  snapshotDailyMs: 60 * DAY,
  /** Rows that one question to the store may bring. */
  listRowsMax: 100_000,
  /** Unreadable messages kept to be looked at. */
  keptAsideMax: 100,
  exampleCharsMax: 120,
  /** A configuration file: far above any honest one. */
  configBytesMax: 1024 * 1024,
  /** Site files in a configuration folder. */
  configFilesMax: 5_000,
  /** Uses of YAML anchors in one file; more is an attempt to fill the memory. */
  configAliasesMax: 100,
  /** A secret is one line, a key file a few. */
  secretBytesMax: 64 * 1024,
  /** One attempt to deliver a message, whole. */
  deliveryDeadlineMs: 60 * SECOND,
  deliveryAgeMaxMs: 48 * HOUR,
  outboxMax: 10_000,
  /** Waits between attempts to deliver one message; the last one repeats until `deliveryAgeMaxMs`. */
  deliveryRetryMs: [MINUTE, 2 * MINUTE, 5 * MINUTE, 15 * MINUTE, HOUR],
  /** A way that refuses our name and password is asked again once a day, so that it does not lock the account. */
  deliveryRefusedMs: DAY,
  /** The longest wait that the other side may ask for (Retry-After). */
  deliveryRetryAfterMaxMs: 6 * HOUR,
  /** Rows of the outbox taken up in one round. */
  deliveryBatchMax: 2_000,
  /** Ways at work at the same time, and how many of them may be ways whose last attempt failed. */
  deliveryWaysMax: 64,
  deliveryFailingWaysMax: 16,
  /** The picture of a mail: what a poor link carries beside the words. */
  mailPictureBytesMax: 15_000,
  subjectCharsMax: 60,
  /** One text message by 3GPP TS 23.038, in 7-bit characters. */
  shortSeptetsMax: 160,
  acknowledgeLinkMs: 7 * DAY,
  acknowledgeTokenCharsMax: 1_024,
  loginTriesMax: 10,
  selfProbeMs: MINUTE,
  selfProbeMissesMax: 3,
  /** Captures: what a power cut may take of them, and how much is held in memory. */
  captureFlushMs: SECOND,
  captureBufferChars: 64 * 1024,
  capturePieceBytes: 1024 * 1024,
  /** The largest frame with every byte escaped as JSON does it (six characters), with room to spare. */
  captureLineBytesMax: 4 * 1024 * 1024,
  /** A compressed capture is unpacked in memory; larger ones are to be unpacked to a file. */
  captureUnpackedBytesMax: 512 * 1024 * 1024,
  /**
   * A frame on the wire. Well above a payload, so that a message that is merely too large is taken, counted as
   * `too-large` and acknowledged (a board would send it again for ever); beyond it the connection is closed.
   */
  frameBytesMax: 512 * 1024,
  /** A frame of a connection that has not said yet who it is: a CONNECT with a will. */
  firstFrameBytesMax: 80 * 1024,
  /** Half-open QoS 2 exchanges of one client: each keeps its message in memory. */
  qos2HeldMax: 100,
  /** A reader that takes nothing for so long is disconnected, or it would hold up those who write. */
  drainTimeoutMs: 10 * SECOND,
  /** Passwords being checked at once: each costs a core some tens of milliseconds, on purpose. */
  verifyAtOnceMax: 4,
  verifyWaitingMax: 1_000,
  /** Connections above `connectionsMax` kept free for the program's own probe. */
  connectionsSpare: 5,
  /** Retained messages of our own that are published again when the broker is built anew. */
  retainedMax: 1_000,
  /** An account that was removed or changed is noticed within this time while its client is connected. */
  accountsLookMs: 5 * SECOND,
  /** A close waits this long for messages that are with the store. */
  closeWaitMs: 2 * SECOND,
  /** One client id taken over more often than this in two minutes: two boards use one name. */
  takeoversMax: 5,
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
  /** Whether people can be told is said on the broker so often though nothing changes; after a failure sooner. */
  tellingTopicMs: 5 * MINUTE,
  tellingTopicRetryMs: 15 * SECOND,
  /** Browsers of one person that are told by web push. */
  pushBrowsersMax: 10,
  /** A push service keeps a message for a browser that sleeps as long as a message is worth delivering. */
  pushKeptS: 48 * 3_600,
  /** One uplink message: what it may unpack to, its columns, the samples of one. */
  frameContentBytesMax: 8 * 1024 * 1024,
  frameColumnsMax: 2_000,
  frameSamplesMax: 100_000,
  /** Uplink messages kept while the link is cut: two months of one site, one each five minutes. */
  uplinkFramesMax: 20_000,
  /** One uplink message, to be acknowledged; on a poor link this takes its time. */
  uplinkDeadlineMs: MINUTE,
  /** Tokens of scripts. */
  tokensMax: 100,
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
  chartSpanMaxMs: 1_500 * DAY,
  rowsMax: 1_000,
  daysMax: 800,
  journalCharsMax: 2_000,
  /** Of a report, so that it prints on one page: alarms, upkeep, journal entries, and characters of what people wrote. */
  reportAlarmsMax: 12,
  reportUpkeepMax: 6,
  reportJournalMax: 6,
  reportCharsMax: 90,
  shelveMinutesMax: 7 * 24 * 60,
  maintenanceMinutesMax: 24 * 60,
  requestBytesMax: 16 * 1024,
  /** A request that has not come whole by then is ended: drop by drop it would hold its place for ever. */
  requestTimeoutMs: 30 * SECOND,
  /** Hours of energy that sizes are worked out from: some two years. */
  sizingHoursMax: 17_600,
  /** Sizings that wait for their turn, and answers that are kept. */
  sizingWaitingMax: 4,
  sizingKeptMax: 64,
  /** Another setting of an alarm is tried over so long, learning before it for so long where nothing learned was kept. */
  backtestSpanMs: 30 * DAY,
  backtestLearnMs: 60 * DAY,
  backtestChangesMax: 100,
} as const

function relation(holds: boolean, sentence: string): void {
  if (!holds) throw new Error(`limits.ts: ${sentence}`)
}

relation(LIMITS.commitDeadlineMs * 3 < LIMITS.keepaliveS * SECOND, 'three commit deadlines must fit in a keepalive')
relation(LIMITS.latenessMs < LIMITS.staleAlarmMs, 'the lateness window must be shorter than the age of a stale alarm')
relation(LIMITS.tickMs * 2 + LIMITS.latenessMs < MINUTE, 'two looks and the lateness window must fit in a minute')
relation(LIMITS.rederiveAfterMs <= LIMITS.floodWaitMaxMs, 'a flood is waited for at least as long as a late sample')
relation(LIMITS.snapshotEveryMs % LIMITS.tickMs === 0, 'snapshots must fall on looks')
relation(
  LIMITS.payloadBytesMax * 6 + LIMITS.topicBytesMax * 6 < LIMITS.captureLineBytesMax,
  'a capture line must hold any message',
)
relation(LIMITS.payloadBytesMax + LIMITS.topicBytesMax < LIMITS.firstFrameBytesMax, 'a first frame must hold a will')
relation(LIMITS.firstFrameBytesMax <= LIMITS.frameBytesMax, 'a first frame is no larger than any')
relation(LIMITS.externalHeldMax <= LIMITS.ingestQueueMax, 'what is held must fit in the queue')
relation(LIMITS.deliveryFailingWaysMax < LIMITS.deliveryWaysMax, 'failing ways must leave room for ways that work')
relation(LIMITS.deliveryBatchMax <= LIMITS.outboxMax, 'a round cannot take more than the outbox holds')
relation(
  LIMITS.deliveryRetryAfterMaxMs < LIMITS.deliveryAgeMaxMs,
  'a wait asked for must end before a message is too old',
)
relation(LIMITS.commitBatchMax <= LIMITS.ingestQueueMax, 'a commit cannot hold more than the queue')
relation(LIMITS.snapshotHourlyMs < LIMITS.snapshotDailyMs, 'hourly snapshots must end before daily ones')
relation(LIMITS.sealSamplesMax < LIMITS.openSamplesMax, 'one go of sealing must be smaller than the open samples')
