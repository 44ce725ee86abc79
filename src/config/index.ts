/** The configuration room: what other rooms may use of it. */
export type { AlarmNumbers } from './build-tell.js'
export { type Finding, formatFinding } from './finding.js'
export { type Loaded, type LoadOptions, loadConfig } from './load.js'
