/** The invented sites of the bench: a board each, with the least set of signals. */
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { TANK } from './board-life.js'

export function siteId(number: number): string {
  return `bench-${number}`
}

export function boardId(number: number): string {
  return `board-${number}`
}

export function topicOf(number: number): string {
  return `water/${siteId(number)}/${boardId(number)}`
}

/** The broker part of `daemon.yaml`. */
export function embedded(port: number): string {
  return `  embedded: { host: 127.0.0.1, port: ${port}, anonymous: true }`
}

export function external(port: number): string {
  return `  external: { url: "mqtt://127.0.0.1:${port}", client_id: sightglass-bench }`
}

/** Writes a configuration folder of `count` sites into `folder`. */
export function writeSites(
  folder: string,
  { count, broker, pagePort }: { readonly count: number; readonly broker: string; readonly pagePort: number },
): void {
  mkdirSync(folder, { recursive: true })
  const daemon = [
    'store: { file: sightglass.db }',
    'broker:',
    broker,
    `page: { host: 127.0.0.1, port: ${pagePort} }`,
    '',
  ]
  writeFileSync(join(folder, 'daemon.yaml'), daemon.join('\n'))
  for (let number = 0; number < count; number++) writeFileSync(join(folder, `${siteId(number)}.yaml`), site(number))
}

function site(number: number): string {
  return `site: { id: ${siteId(number)}, timezone: America/Los_Angeles }
boards:
  ${boardId(number)}:
    expect_every: "30 s"
    signals: { tank-level: tank-level, pump-current: pump-current, battery-voltage: battery-voltage }
tank:
  shape: { upright-cylinder: { diameter: "${TANK.diameterM} m", height: "${TANK.heightM} m" } }
  low_mark: "${TANK.lowM} m"
  high_mark: "${TANK.highM} m"
  full: "1.45 m"
  reserve: "100 l"
well: { lift: "50 m" }
pump: { nominal_voltage: "24 V" }
battery: { chemistry: lifepo4, nominal_voltage: "24 V", capacity: "160 Ah" }
`
}
