/** Writes docs/alarms.md from the definitions of the alarms: `npx tsx config/tooling/alarm-docs.ts`. */
import { writeFileSync } from 'node:fs'
import { alarmManual } from '../../src/judge/manual.js'

writeFileSync(new URL('../../docs/alarms.md', import.meta.url), alarmManual())
