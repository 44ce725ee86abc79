import { formatFinding, loadConfig } from '../config/index.js'
import { type Surroundings, WrongWords } from './words.js'

/** `check`: every error and every warning of a configuration, a line each. */
export function check(words: { readonly config: string }, { out, err }: Surroundings): number {
  const loaded = loadConfig(words.config)
  for (const warning of loaded.warnings) err(`warning: ${formatFinding(warning)}\n`)
  if (!loaded.ok) throw new WrongWords(loaded.errors.map(formatFinding).join('\n'))
  const { sites } = loaded.settings
  const signals = sites.flatMap((site) => site.boards).flatMap((board) => board.signals).length
  out(
    `${words.config}: good. ${count(sites.length, 'site')}, ${count(signals, 'signal')}, ${count(loaded.warnings.length, 'warning')}.\n`,
  )
  return 0
}

function count(n: number, what: string): string {
  return `${n} ${what}${n === 1 ? '' : 's'}`
}
