/** From the sections of the daemon to its settings: files found, secrets read. */
import type { BrokerSettings, DaemonSettings, TlsSettings, UplinkSettings } from '../model/settings.js'
import type { FileReader } from './files.js'
import type { Path } from './finding.js'
import type { DaemonSections } from './schema.js'

export type DaemonDraft = { -readonly [Name in keyof Omit<DaemonSettings, 'sites'>]?: DaemonSettings[Name] }

const SECONDS_A_DAY = 86_400

/** Builds every part whose section could be read. What is wrong with named files is in `files.issues`. */
export function buildDaemon(sections: DaemonSections, files: FileReader): DaemonDraft {
  const { store, broker, page, accounts, uplink, beat } = sections
  const draft: DaemonDraft = {}
  if (store !== undefined) {
    const file = store.file === ':memory:' ? store.file : files.resolve(store.file)
    draft.store = { file, keepSamplesDays: store.keep_samples / SECONDS_A_DAY }
  }
  if (broker !== undefined) draft.broker = buildBroker(broker, files)
  if (page !== undefined) {
    draft.page = {
      host: page.host,
      port: page.port,
      tls: buildTls(page.tls, ['page', 'tls'], files),
      openOnLoopback: page.open_on_loopback,
      ...(page.address === undefined ? {} : { address: page.address }),
    }
  }
  draft.accounts = Object.entries(accounts ?? {}).map(([name, account]) => ({
    name,
    role: account.role,
    password: files.secret(account.secret_file, ['accounts', name, 'secret_file']),
    site: account.site ?? null,
  }))
  draft.uplink = uplink === undefined ? null : buildUplink(uplink, files)
  draft.beat =
    beat === undefined
      ? null
      : {
          everyS: beat.every,
          url: beat.url,
          secret: beat.secret_file === undefined ? null : files.secret(beat.secret_file, ['beat', 'secret_file']),
        }
  return draft
}

type BrokerInput = NonNullable<DaemonSections['broker']>
type TlsInput = { key_file: string; cert_file: string; port?: number | undefined }

function buildBroker({ embedded, external }: BrokerInput, files: FileReader): BrokerSettings {
  if (external === undefined) {
    return {
      kind: 'embedded',
      host: embedded?.host ?? '127.0.0.1',
      port: embedded?.port ?? 1883,
      tls: buildTls(embedded?.tls, ['broker', 'embedded', 'tls'], files),
      anonymous: embedded?.anonymous ?? false,
    }
  }
  const path = ['broker', 'external']
  return {
    kind: 'external',
    url: external.url,
    username: external.username ?? null,
    password: optionalSecret(external.password_file, [...path, 'password_file'], files),
    clientId: external.client_id,
    caFile: external.ca_file === undefined ? null : files.file(external.ca_file, [...path, 'ca_file']),
  }
}

function buildUplink(uplink: NonNullable<DaemonSections['uplink']>, files: FileReader): UplinkSettings {
  return {
    url: uplink.url,
    username: uplink.username ?? null,
    password: optionalSecret(uplink.password_file, ['uplink', 'password_file'], files),
    clientId: uplink.client_id ?? 'sightglass-uplink',
    everyS: uplink.every,
    monthBytes: uplink.megabytes_a_month * 1e6,
    caFile: uplink.ca_file === undefined ? null : files.file(uplink.ca_file, ['uplink', 'ca_file']),
  }
}

function buildTls(tls: TlsInput | undefined, path: Path, files: FileReader): TlsSettings | null {
  if (tls === undefined) return null
  return {
    keyFile: files.file(tls.key_file, [...path, 'key_file'], true),
    certFile: files.file(tls.cert_file, [...path, 'cert_file']),
    port: tls.port ?? null,
  }
}

function optionalSecret(name: string | undefined, path: Path, files: FileReader): string | null {
  return name === undefined ? null : files.secret(name, path)
}
