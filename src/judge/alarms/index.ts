/** Every alarm that is judged, causes before their consequences: within one look a cause is raised first. */
import type { AlarmDefinition } from '../definition.js'
import { arrayDark } from './array-dark.js'
import { batteryColdCharge } from './battery-cold-charge.js'
import { batteryLow } from './battery-low.js'
import { batteryNotFull } from './battery-not-full.js'
import { batterySag } from './battery-sag.js'
import { boardSilent } from './board-silent.js'
import { clockSuspect } from './clock-suspect.js'
import { dryWell } from './dry-well.js'
import { energyRising } from './energy-rising.js'
import { fillLong } from './fill-long.js'
import { freezeRisk } from './freeze-risk.js'
import { freezing } from './freezing.js'
import { leak } from './leak.js'
import { housePumpCycling } from './house-pump-cycling.js'
import { noRise } from './no-rise.js'
import { overfill } from './overfill.js'
import { pumpNoStart } from './pump-no-start.js'
import { pumpStalled } from './pump-stalled.js'
import { sensorSuspect } from './sensor-suspect.js'
import { siteSilent } from './site-silent.js'
import { staleWater } from './stale-water.js'
import { storeFailing } from './store-failing.js'
import { tankLow } from './tank-low.js'
import { tellingFailing } from './telling-failing.js'
import { yieldFalling } from './yield-falling.js'

export const ALARM_DEFINITIONS: readonly AlarmDefinition[] = [
  storeFailing,
  tellingFailing,
  batteryLow,
  batteryColdCharge,
  arrayDark,
  batterySag,
  batteryNotFull,
  siteSilent,
  boardSilent,
  freezing,
  freezeRisk,
  pumpStalled,
  overfill,
  dryWell,
  noRise,
  pumpNoStart,
  leak,
  fillLong,
  tankLow,
  housePumpCycling,
  sensorSuspect,
  clockSuspect,
  yieldFalling,
  energyRising,
  staleWater,
]
