/** Every alarm that is judged, causes before their consequences: within one look a cause is raised first. */
import type { AlarmDefinition } from '../definition.js'
import { batteryLow } from './battery-low.js'
import { boardSilent } from './board-silent.js'
import { clockSuspect } from './clock-suspect.js'
import { dryWell } from './dry-well.js'
import { fillLong } from './fill-long.js'
import { freezing } from './freezing.js'
import { noRise } from './no-rise.js'
import { overfill } from './overfill.js'
import { pumpNoStart } from './pump-no-start.js'
import { pumpStalled } from './pump-stalled.js'
import { sensorSuspect } from './sensor-suspect.js'
import { siteSilent } from './site-silent.js'
import { storeFailing } from './store-failing.js'
import { tankLow } from './tank-low.js'
import { tellingFailing } from './telling-failing.js'

export const ALARM_DEFINITIONS: readonly AlarmDefinition[] = [
  storeFailing,
  tellingFailing,
  batteryLow,
  siteSilent,
  boardSilent,
  freezing,
  pumpStalled,
  overfill,
  dryWell,
  noRise,
  pumpNoStart,
  fillLong,
  tankLow,
  sensorSuspect,
  clockSuspect,
]
