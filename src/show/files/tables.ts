/** The tables that `replay` writes and `export` gives out: columns by name, in the contract's order. SI, UTC. */
import type { Alarm } from '../../model/alarm.js'
import type { Day, FillCycle } from '../../model/fill.js'
import type { Message } from '../../model/message.js'
import type { JournalEntry } from '../../model/modes.js'
import { type Cell, fixed, isoTime } from './csv.js'

export type Table<T> = { readonly columns: readonly string[]; readonly row: (item: T) => readonly Cell[] }

export const CYCLES: Table<FillCycle> = {
  columns: [
    'start',
    'end',
    'duration_s',
    'volume_l',
    'volume_sd_l',
    'energy_wh',
    'energy_sd_wh',
    'flow_l_min',
    'wh_per_l',
    'current_mean_a',
    'voltage_mean_v',
    'voltage_min_v',
    'end_reason',
    'complete',
  ],
  row: (c) => [
    isoTime(c.start),
    isoTime(c.end),
    fixed(c.durationS, 1),
    fixed(c.volumeL?.value, 1),
    fixed(c.volumeL?.sd, 1),
    fixed(c.energyWh?.value, 2),
    fixed(c.energyWh?.sd, 2),
    fixed(c.flowLMin?.value, 3),
    fixed(c.whPerL?.value, 4),
    fixed(c.currentMeanA, 3),
    fixed(c.voltageMeanV, 3),
    fixed(c.voltageMinV, 2),
    c.endReason,
    c.complete,
  ],
}

export const DAYS: Table<Day> = {
  columns: [
    'date',
    'pumped_l',
    'used_l',
    'fills',
    'run_s',
    'pump_wh',
    'wh_per_l',
    'battery_min_v',
    'battery_max_v',
    'harvest_wh',
    'air_min_c',
    'air_max_c',
    'covered',
  ],
  row: (d) => [
    d.date,
    fixed(d.pumpedL?.value, 1),
    fixed(d.usedL?.value, 1),
    d.fills,
    fixed(d.runS, 0),
    fixed(d.pumpWh?.value, 2),
    fixed(d.whPerL?.value, 4),
    fixed(d.batteryMinV, 2),
    fixed(d.batteryMaxV, 2),
    fixed(d.harvestWh, 1),
    fixed(d.airMinC, 2),
    fixed(d.airMaxC, 2),
    fixed(d.covered, 4),
  ],
}

export const ALARMS: Table<Alarm> = {
  columns: ['id', 'priority', 'raised', 'cleared', 'subject', 'cause', 'evidence'],
  row: (a) => [
    a.id,
    a.priority,
    isoTime(a.raised),
    isoTime(a.cleared),
    a.subject,
    a.cause,
    a.evidence
      .map((one) => {
        const usual = one.usual === null ? '' : ` (usual ${fixed(one.usual, 3)})`
        return `${one.label} ${fixed(one.value, 3)}${usual}`
      })
      .join('; '),
  ],
}

export type Told = { readonly at: number; readonly message: Message }

export const TOLD: Table<Told> = {
  columns: ['at', 'person', 'way', 'about', 'text'],
  row: ({ at, message }) => [isoTime(at), message.person, message.way, message.about, message.text],
}

/** Same shape as the store's refusal counts. */
export type RefusedRow = {
  readonly reason: string
  readonly board: string
  readonly count: number
  readonly first: number
  readonly last: number
  readonly example: string
}

export const REFUSED: Table<RefusedRow> = {
  columns: ['reason', 'board', 'count', 'first', 'last', 'example'],
  row: (r) => [r.reason, r.board, r.count, isoTime(r.first), isoTime(r.last), r.example],
}

export const JOURNAL: Table<JournalEntry> = {
  columns: ['at', 'by', 'text', 'new_baseline', 'upkeep'],
  row: (j) => [isoTime(j.at), j.by, j.text, j.newBaseline, j.upkeep],
}

export type SampleRow = { readonly key: string; readonly t: number; readonly value: number; readonly unit: string }

export const SAMPLES: Table<SampleRow> = {
  columns: ['time', 'name', 'value', 'unit'],
  row: (s) => [isoTime(s.t), s.key, s.value, s.unit],
}
