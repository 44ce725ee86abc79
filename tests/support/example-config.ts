/** The example configurations, changed for a test: other paths, other ports, other people. */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parse, stringify } from 'yaml'

export type Tree = { [key: string]: unknown }

export const EXAMPLES = {
  juniper: fileURLToPath(new URL('../../config/juniper.yaml', import.meta.url)),
  fern: fileURLToPath(new URL('../../config/fern.yaml', import.meta.url)),
} as const
export type ExampleId = keyof typeof EXAMPLES

/** The example as plain data; its store lies beside the file that it is written to. */
export function example(site: ExampleId): Tree {
  const tree: unknown = parse(readFileSync(EXAMPLES[site], 'utf8'))
  if (typeof tree !== 'object' || tree === null) throw new Error(`${EXAMPLES[site]}: found no mapping`)
  return { ...tree, store: { file: `${site}.db` } }
}

/** Writes a configuration file into a folder and returns its path. */
export function writeConfig(folder: string, name: string, tree: Tree): string {
  const file = join(folder, name)
  mkdirSync(dirname(file), { recursive: true })
  writeFileSync(file, stringify(tree), { mode: 0o600 })
  return file
}

/** The example with these sections put in place of its own, as a file in `folder`. */
export function exampleFile(folder: string, site: ExampleId, sections: Tree = {}): string {
  return writeConfig(folder, `${site}.yaml`, { ...example(site), ...sections })
}
