/**
 * The tables. STRICT throughout; times are epoch milliseconds; figures are SI columns of their own, NULL for
 * unknown; every table of a site's own things is keyed by site.
 */

/** "SiGl" in ASCII, SQLite's application_id of our files. */
export const APPLICATION_ID = 0x5369476c

const VERSION_1 = `
CREATE TABLE series (
  id INTEGER PRIMARY KEY, site TEXT NOT NULL, key TEXT NOT NULL, UNIQUE (site, key)
) STRICT;
CREATE TABLE sample_log (
  seq INTEGER PRIMARY KEY, first_ms INTEGER NOT NULL, last_ms INTEGER NOT NULL, records BLOB NOT NULL
) STRICT;
CREATE TABLE block (
  id INTEGER PRIMARY KEY, series INTEGER NOT NULL, day INTEGER NOT NULL, count INTEGER NOT NULL,
  bytes INTEGER NOT NULL, last_ms INTEGER NOT NULL, data BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX block_place ON block (series, day, count, bytes, last_ms);
CREATE TABLE rollup (
  series INTEGER NOT NULL, level INTEGER NOT NULL, bucket INTEGER NOT NULL, n INTEGER NOT NULL,
  min REAL NOT NULL, max REAL NOT NULL, sum REAL NOT NULL, PRIMARY KEY (series, level, bucket)
) STRICT, WITHOUT ROWID;
CREATE TABLE refusal (
  site TEXT NOT NULL, reason TEXT NOT NULL, board TEXT NOT NULL, count INTEGER NOT NULL, first INTEGER NOT NULL,
  last INTEGER NOT NULL, example TEXT NOT NULL, PRIMARY KEY (site, reason, board)
) STRICT, WITHOUT ROWID;
CREATE TABLE kept_aside (
  id INTEGER PRIMARY KEY, site TEXT NOT NULL, board TEXT NOT NULL, at INTEGER NOT NULL, topic TEXT NOT NULL,
  reason TEXT NOT NULL, payload BLOB NOT NULL
) STRICT;
CREATE INDEX kept_aside_site ON kept_aside (site, id);
CREATE TABLE snapshot (
  site TEXT NOT NULL, at INTEGER NOT NULL, text BLOB NOT NULL, PRIMARY KEY (site, at)
) STRICT;
CREATE TABLE cycle (
  site TEXT NOT NULL, start INTEGER NOT NULL, end INTEGER NOT NULL, duration_s REAL NOT NULL,
  duration_sd_s REAL NOT NULL, volume_l REAL, volume_sd_l REAL, energy_wh REAL, energy_sd_wh REAL,
  flow_l_min REAL, flow_sd_l_min REAL, wh_per_l REAL, wh_per_l_sd REAL, current_mean_a REAL, voltage_mean_v REAL,
  voltage_min_v REAL, level_start_m REAL, level_end_m REAL, first_rise_s REAL, end_reason TEXT NOT NULL,
  complete INTEGER NOT NULL, PRIMARY KEY (site, start)
) STRICT;
CREATE INDEX cycle_end ON cycle (site, end);
CREATE TABLE day (
  site TEXT NOT NULL, date TEXT NOT NULL, start INTEGER NOT NULL, end INTEGER NOT NULL, pumped_l REAL,
  pumped_sd_l REAL, used_l REAL, used_sd_l REAL, fills INTEGER NOT NULL, run_s REAL NOT NULL, pump_wh REAL,
  pump_sd_wh REAL, wh_per_l REAL, wh_per_l_sd REAL, battery_min_v REAL, battery_max_v REAL, harvest_wh REAL,
  air_min_c REAL, air_max_c REAL, covered REAL NOT NULL, PRIMARY KEY (site, date)
) STRICT;
CREATE TABLE alarm (
  site TEXT NOT NULL, key TEXT NOT NULL, raised INTEGER NOT NULL, id TEXT NOT NULL, subject TEXT NOT NULL,
  priority TEXT NOT NULL, state TEXT NOT NULL, since INTEGER NOT NULL, cleared INTEGER, cause TEXT NOT NULL,
  evidence TEXT NOT NULL, words TEXT NOT NULL, acknowledged_by TEXT, acknowledged_at INTEGER,
  shelved_until INTEGER, shelve_reason TEXT, explained_by TEXT, raises_in_day INTEGER NOT NULL,
  PRIMARY KEY (site, key, raised)
) STRICT;
CREATE INDEX alarm_raised ON alarm (site, raised);
CREATE INDEX alarm_active ON alarm (site, raised)
  WHERE cleared IS NULL OR state IN ('returned-unacknowledged', 'latched');
CREATE TABLE judge_state (site TEXT PRIMARY KEY, at INTEGER NOT NULL, text TEXT NOT NULL) STRICT;
CREATE TABLE outbox (
  id INTEGER PRIMARY KEY, site TEXT NOT NULL, key TEXT NOT NULL, kind TEXT NOT NULL, person TEXT NOT NULL,
  way TEXT NOT NULL, about TEXT NOT NULL, priority TEXT NOT NULL, urgency INTEGER NOT NULL, at INTEGER NOT NULL,
  subject TEXT NOT NULL, text TEXT NOT NULL, html TEXT, short TEXT NOT NULL, due INTEGER NOT NULL,
  state TEXT NOT NULL, attempts INTEGER NOT NULL, next_at INTEGER NOT NULL, sent_at INTEGER, error TEXT,
  UNIQUE (site, key)
) STRICT;
CREATE INDEX outbox_waiting ON outbox (next_at) WHERE state = 'waiting';
CREATE INDEX outbox_site ON outbox (site, id);
CREATE TABLE way (
  site TEXT NOT NULL, way TEXT NOT NULL, proved_at INTEGER, error TEXT, error_at INTEGER, PRIMARY KEY (site, way)
) STRICT;
CREATE TABLE journal (
  id INTEGER PRIMARY KEY, site TEXT NOT NULL, at INTEGER NOT NULL, by TEXT NOT NULL, text TEXT NOT NULL,
  new_baseline INTEGER NOT NULL
) STRICT;
CREATE INDEX journal_at ON journal (site, at);
CREATE TABLE mode (
  site TEXT PRIMARY KEY, away INTEGER, winterized INTEGER, maintenance_until INTEGER
) STRICT;
CREATE TABLE account (
  name TEXT PRIMARY KEY, role TEXT NOT NULL, site TEXT, salt BLOB NOT NULL, hash BLOB NOT NULL,
  cost INTEGER NOT NULL, added INTEGER NOT NULL
) STRICT;
CREATE TABLE secret (name TEXT PRIMARY KEY, bytes BLOB NOT NULL) STRICT;
`

const VERSION_2 = `
ALTER TABLE journal ADD COLUMN upkeep TEXT;
CREATE TABLE uplink_frame (
  id INTEGER PRIMARY KEY AUTOINCREMENT, site TEXT NOT NULL, at INTEGER NOT NULL, data BLOB NOT NULL
) STRICT;
CREATE TABLE uplink_state (
  id INTEGER PRIMARY KEY CHECK (id = 1), seq INTEGER NOT NULL, month TEXT NOT NULL, bytes INTEGER NOT NULL
) STRICT;
CREATE TABLE push_subscription (
  endpoint TEXT PRIMARY KEY, site TEXT NOT NULL, person TEXT NOT NULL, way TEXT NOT NULL, p256dh TEXT NOT NULL,
  auth TEXT NOT NULL, added INTEGER NOT NULL
) STRICT;
CREATE TABLE proof (id INTEGER PRIMARY KEY CHECK (id = 1), at INTEGER NOT NULL) STRICT;
`

const VERSION_3 = `
CREATE TABLE energy_hour (
  site TEXT NOT NULL, at INTEGER NOT NULL, covered REAL NOT NULL, harvest_wh REAL, clear_wh REAL, free_wh REAL,
  free_clear_wh REAL, held_share REAL, pump_wh REAL, load_wh REAL, charge_wh REAL, discharge_wh REAL, battery_c REAL,
  air_c REAL, PRIMARY KEY (site, at)
) STRICT, WITHOUT ROWID;
`

const VERSION_4 = `
CREATE TABLE token (
  id TEXT PRIMARY KEY, name TEXT NOT NULL UNIQUE, role TEXT NOT NULL, salt BLOB NOT NULL, hash BLOB NOT NULL,
  made_by TEXT NOT NULL, made_at INTEGER NOT NULL, until INTEGER, used_at INTEGER
) STRICT;
`

/** Step i brings a file from version i to version i + 1. A published step is never edited, only followed. */
export const MIGRATIONS: readonly string[] = [VERSION_1, VERSION_2, VERSION_3, VERSION_4]
