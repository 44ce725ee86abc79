/** Facts of battery and array as the faults of battery-sag, cold charge, not-full and a dark array make them. */
import type { Facts } from '../../src/model/facts.js'
import type { ArrayFacts, SagFacts } from '../../src/model/facts-power.js'
import { START } from './facts.js'

const HOUR = 3_600_000

export function sag(set: Partial<SagFacts> = {}) {
  return (facts: Facts): void => {
    facts.power.sag = {
      ohm: 0.07,
      sdOhm: 0.002,
      usual: { value: 0.037, sd: 0.002, starts: 20 },
      doubt: 1,
      temperatureFrom: 'battery',
      temperatureC: 14,
      since: START - 24 * HOUR,
      lastAt: START - HOUR,
      trendOhm: { value: 0.004, sd: 0.001 },
      ...set,
    }
  }
}

export function coldCharge(measured = true) {
  return (facts: Facts): void => {
    Object.assign(facts.power, { coldChargeSince: START, chargeA: 6.2, chargeMeasured: measured })
    facts.battery.temperatureC = -3
  }
}

export function notFull(daysNotFull: number) {
  return (facts: Facts): void => {
    Object.assign(facts.power, { daysNotFull, lastFullAt: START - 15 * 24 * HOUR })
    facts.power.charge = { share: 0.42, sd: 0.06, low: 0.3, high: 0.54, by: 'counted', from: START - 15 * 24 * HOUR }
    facts.power.cutOff = { hours: 40, lowH: 24, highH: 66, by: 'counted' }
  }
}

export function harvest(set: Partial<ArrayFacts> = {}) {
  return (facts: Facts): void => {
    facts.power.array = {
      hours: 5,
      clearH: 2.5,
      ratio: 0.01,
      cloudRatio: 0.17,
      recentRatio: 0.01,
      lowestRatio: 0.2,
      usualRatio: 0.85,
      days: 30,
      late: true,
      since: START - 2 * HOUR,
      voltsShare: 0.8,
      batteryA: -0.6,
      coldestC: -4,
      ...set,
    }
  }
}

/** For every cause of these alarms, by alarm and cause. */
export const POWER_FAULTS: Readonly<Record<string, { readonly bend: (facts: Facts) => void }>> = {
  'battery-sag/grown': { bend: sag() },
  'battery-sag/grown-or-cold': { bend: sag({ temperatureFrom: null, temperatureC: null, ohm: 0.09, doubt: 1.59 }) },
  'battery-cold-charge/charged': { bend: coldCharge() },
  'battery-cold-charge/charged-by-panel': { bend: coldCharge(false) },
  'battery-not-full/not-full': { bend: notFull(14) },
  'array-dark/no-voltage': { bend: harvest({ voltsShare: 0.02, ratio: 0 }) },
  'array-dark/little-light': { bend: harvest() },
  'array-dark/not-taken': { bend: harvest({ voltsShare: 1.2, coldestC: 9 }) },
}
