/** The schema of what belongs to one site: the place, its tank, well, pump, battery, lines and habits. */
import { z } from 'zod'
import { coordinate, fail, id, quantity, section } from './fields.js'
import { meant } from './nearest.js'

/** A name of the IANA time zone database; fixed offsets have no summer time and are refused. */
function timezone() {
  const description = 'Name of the time zone in the IANA database, such as "America/Los_Angeles".'
  return z
    .string()
    .meta({ description })
    .transform((text, context) => {
      if (isTimezone(text)) return text
      const expected = 'a name of the IANA time zone database, such as "America/Los_Angeles"'
      return fail(context, text, 'is no time zone', { expected, hint: meant(text, Intl.supportedValuesOf('timeZone')) })
    })
}

function isTimezone(text: string): boolean {
  if (!/^[A-Za-z]/.test(text)) return false
  try {
    new Intl.DateTimeFormat('en', { timeZone: text })
    return true
  } catch {
    return false
  }
}

export const siteSchema = section({
  id: id('id of the site'),
  name: z.string().max(60).default('').describe('The name that people read; empty: the id.'),
  timezone: timezone(),
  latitude: coordinate(90).optional(),
  longitude: coordinate(180).optional(),
  elevation: quantity('length', { min: -430, max: 6000 }).default(0),
}).describe('The place.')

export const unitsSchema = z
  .enum(['us', 'si'])
  .default('us')
  .describe('What people are shown. Stored values, files and the HTTP API are SI as named.')

const size = () => quantity('length', { above: 0, max: 30 })

const box = section({ length: size(), width: size(), height: size() }).describe('Inside measures.')
const uprightCylinder = section({ diameter: size(), height: size() }).describe('Inside measures.')
const lyingCylinder = section({ diameter: size(), length: size() }).describe('Inside measures.')
const strapping = z
  .array(z.tuple([quantity('length', { min: 0, max: 30 }), quantity('volume', { min: 0 })]))
  .min(2)
  .max(200)
  .describe('[level, volume] pairs, rising.')

export const shapeSchema = section({
  box: box.optional(),
  'upright-cylinder': uprightCylinder.optional(),
  'lying-cylinder': lyingCylinder.optional(),
  table: strapping.optional(),
}).meta({ minProperties: 1, maxProperties: 1 })

const mark = () => quantity('length', { min: 0, max: 30 })

export const tankSchema = section({
  shape: shapeSchema,
  low_mark: mark().describe('Level where a fill is called for.'),
  high_mark: mark().describe('Level where a fill stops.'),
  full: mark().optional().describe('Overflow level; default: the top of the tank.'),
  reserve: quantity('volume', { min: 0 }).optional().describe('Below this volume, say so.'),
}).describe('The storage tank.')

export const wellSchema = section({
  lift: quantity('length', { above: 0, max: 600 })
    .optional()
    .describe('Height from the water in the well to the inlet of the tank.'),
  rest_after_dry: quantity('duration', { min: 0, max: 86_400 })
    .default(1800)
    .describe('How long the control rests a well that ran dry.'),
}).describe('The well.')

export const pumpSchema = section({
  nominal_voltage: quantity('voltage', { above: 0, max: 150 }).optional(),
  running_current: quantity('current', { above: 0, max: 400 })
    .optional()
    .describe('What it draws when all is well; learned if left out.'),
  longest_fill: quantity('duration', { above: 0, max: 7 * 86_400 })
    .default(7200)
    .describe('A fill that lasts longer is told, whatever was learned.'),
}).describe('The well pump.')

export const batterySchema = section({
  chemistry: z.enum(['lifepo4', 'flooded', 'agm', 'gel']),
  nominal_voltage: quantity('voltage', { above: 0, max: 150 }),
  capacity: quantity('charge', { above: 0, max: 20_000 }).optional(),
}).describe('The battery.')

export const arraySchema = section({
  rated: quantity('power', { above: 0, max: 100_000 }),
  tilt: quantity('angle', { min: 0, max: 90 }).optional().describe('From level.'),
  azimuth: quantity('angle', { min: 0, max: 360 }).optional().describe('Clockwise from north: 180 deg looks south.'),
}).describe('The solar array.')

export const linesSchema = z
  .array(
    section({
      name: z.string().min(1).max(60),
      kind: z.enum(['exposed', 'boxed', 'buried']).default('exposed'),
      inside_diameter: quantity('length', { above: 0, max: 1 }).optional(),
      depth: quantity('length', { min: 0, max: 20 }).optional(),
      insulation: quantity('length', { min: 0, max: 2 }).optional().describe('Thickness.'),
      temperature_role: z.string().optional().describe('Key of the signal that is fixed to this line.'),
    }),
  )
  .max(50)
  .default([])
  .describe('Water lines that can freeze.')

export const waterSchema = section({
  people: z.number().min(0).max(1000).optional(),
  daily_need: quantity('volume', { above: 0, max: 1e6 }).optional(),
}).describe('Who uses water, and how much.')

const DATE = /^\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2})?$/
const date = () =>
  z.string().regex(DATE, { error: 'is no date: expected "2026-01-31", or "2026-01-31 14:00", in the site\'s own time' })

export const awaySchema = section({
  default: z.enum(['home', 'away']).default('home'),
  calendar: z
    .array(z.tuple([date(), date()]))
    .max(500)
    .default([]),
}).describe("When nobody is there. Dates are in the site's own time; the last day counts whole.")

export const seasonSchema = section({
  winterized: z.boolean().default(false),
}).describe('Winterized: drained for the cold months.')

export const upkeepSchema = z
  .array(
    section({
      name: z.string().trim().min(1).max(60),
      every: quantity('duration', { min: 86_400, max: 20 * 366 * 86_400 }),
    }),
  )
  .max(50)
  .default([])
  .describe('What is to be done again and again: filter, tank, water test, battery terminals.')
