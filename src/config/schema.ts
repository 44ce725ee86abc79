/** The whole configuration, one schema: types, errors and the JSON Schema come from it. */
import type { z } from 'zod'
import { section } from './fields.js'
import { boardsSchema } from './schema-boards.js'
import { accountsSchema, beatSchema, brokerSchema, pageSchema, storeSchema, uplinkSchema } from './schema-daemon.js'
import {
  arraySchema,
  awaySchema,
  batterySchema,
  linesSchema,
  pumpSchema,
  seasonSchema,
  siteSchema,
  tankSchema,
  unitsSchema,
  upkeepSchema,
  waterSchema,
  wellSchema,
} from './schema-site.js'
import { alarmsSchema, tellSchema } from './schema-tell.js'

/** Sections of one site. */
export const SITE_SECTIONS = {
  site: siteSchema,
  units: unitsSchema,
  boards: boardsSchema,
  tank: tankSchema.optional(),
  well: wellSchema.prefault({}),
  pump: pumpSchema.prefault({}),
  battery: batterySchema.optional(),
  array: arraySchema.optional(),
  lines: linesSchema,
  water: waterSchema.prefault({}),
  away: awaySchema.prefault({}),
  season: seasonSchema.prefault({}),
  upkeep: upkeepSchema,
  alarms: alarmsSchema,
  tell: tellSchema.optional(),
}

/** Sections of the daemon: in the one file, or in the folder's `daemon.yaml`. */
export const DAEMON_SECTIONS = {
  store: storeSchema.prefault({}),
  broker: brokerSchema,
  page: pageSchema.prefault({}),
  accounts: accountsSchema,
  uplink: uplinkSchema.optional(),
  beat: beatSchema.optional(),
}

/** One file with everything. */
export const fileSchema = section({ ...SITE_SECTIONS, ...DAEMON_SECTIONS })

type Outputs<Sections> = {
  [Name in keyof Sections]?: Sections[Name] extends z.ZodType ? z.output<Sections[Name]> : never
}

/** What could be read of a site; a section with a fault in it is absent. */
export type SiteSections = Outputs<typeof SITE_SECTIONS>
export type DaemonSections = Outputs<typeof DAEMON_SECTIONS> & { tell?: z.output<typeof tellSchema> | undefined }
