/** The configuration room: what other rooms may use of it. */
export { type Finding, formatFinding } from './finding.js'
export { type Loaded, loadConfig } from './load.js'
