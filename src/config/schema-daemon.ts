/** The schema of what belongs to the daemon: store, broker, page, accounts, uplink, beat. */
import { z } from 'zod'
import { address, fail, filePath, ID, ID_EXPECTED, id, quantity, section } from './fields.js'

const port = (fallback: number) => z.int().min(1).max(65_535).default(fallback)

const certificate = {
  key_file: filePath('Private key (PEM).'),
  cert_file: filePath('Certificate with its chain (PEM).'),
}

const pageTls = section(certificate)

const brokerTls = section({
  ...certificate,
  port: z.int().min(1).max(65_535).optional().describe('A second port for TLS; default: the one port speaks TLS.'),
})

const host = () => z.string().min(1).max(253).default('127.0.0.1').describe('Address to listen on.')

export const storeSchema = section({
  file: z.string().min(1).default('data/sightglass.db').describe('Relative to the folder of this file.'),
  keep_samples: quantity('duration', { min: 86_400 })
    .default(400 * 86_400)
    .describe('How long single samples are kept; fills, days and alarms stay.'),
}).describe('Where everything is kept.')

const embedded = section({
  host: host(),
  port: port(1883),
  tls: brokerTls.optional(),
  anonymous: z.boolean().default(false).describe('Boards without an account; only on loopback.'),
}).describe('The broker inside this program.')

const external = section({
  url: address(['mqtt', 'mqtts', 'ws', 'wss'], 'Address of the broker.'),
  username: z.string().min(1).optional(),
  password_file: filePath('The password.').optional(),
  client_id: z.string().min(1).max(65).default('sightglass').describe('Two programs must not share one.'),
  ca_file: filePath('Certificate authority (PEM), if it is not a public one.').optional(),
}).describe('A broker that is already there.')

export const brokerSchema = section({ embedded: embedded.optional(), external: external.optional() })
  .meta({ maxProperties: 1 })
  .prefault({ embedded: {} })

export const pageSchema = section({
  host: host(),
  port: port(8180),
  tls: pageTls.optional(),
  address: address(['https', 'http'], 'Where people reach the page; put into the links of messages.').optional(),
  open_on_loopback: z.boolean().default(true).describe('On this machine the page needs no account.'),
}).describe('The page and the HTTP API.')

export const accountsSchema = z
  .record(
    z
      .string()
      .meta({ pattern: ID.source })
      .check((context) => {
        if (ID.test(context.value)) return
        fail(context, context.value, 'is no name of an account', {
          found: JSON.stringify(context.value),
          expected: ID_EXPECTED,
          at: 'key',
        })
      }),
    section({
      role: z.enum(['owner', 'viewer', 'board']),
      secret_file: filePath('The password, one line.'),
      site: id('id of the site').optional().describe('A board of this site only.'),
    }),
  )
  .default({})
  .describe('Accounts made at start, beside those of `sightglass account`.')

export const uplinkSchema = section({
  url: address(['mqtt', 'mqtts', 'ws', 'wss'], 'Broker of the second daemon.'),
  every: quantity('duration', { min: 30, max: 86_400 }).default(300).describe('How often readings go up, together.'),
  megabytes_a_month: z
    .number()
    .min(1)
    .max(100_000)
    .default(10)
    .describe('Near this they go more seldom, then thinned; what fills rest on is never thinned.'),
  username: z.string().min(1).optional(),
  password_file: filePath('The password.').optional(),
  client_id: z.string().min(1).max(65).optional(),
  ca_file: filePath('Certificate authority (PEM), if it is not a public one.').optional(),
}).describe('Store and forward to a second Sightglass.')

export const beatSchema = section({
  every: quantity('duration', { min: 10, max: 86_400 }).default(300),
  url: address(['https', 'http'], 'Where "all is well" is sent.'),
  secret_file: filePath('Key of the signature.').optional(),
}).describe('Outbound "all is well"; a listener elsewhere notices its absence.')
