/** The two invented places, as physics needs them. Their outside (marks, boards, names) is that of config/*.yaml. */
import type { Chemistry } from '../src/model/settings.js'
import { HOUSE, type HousePlan } from './house.js'

export const SITE_IDS = ['juniper', 'fern'] as const
export type SiteId = (typeof SITE_IDS)[number]

export const BOARD_IDS = ['tank-board', 'pump-board', 'house-board'] as const
export type BoardId = (typeof BOARD_IDS)[number]

export type SitePlan = {
  readonly id: SiteId
  readonly timezone: string
  readonly latitudeDeg: number
  readonly longitudeDeg: number
  readonly tank: {
    /** Water surface; both tanks have upright walls. */
    readonly areaM2: number
    readonly lowMarkM: number
    readonly highMarkM: number
    readonly fullM: number
    readonly reserveL: number
  }
  /** True: the control and the board see the water by three contacts; false: by a level sensor. */
  readonly probes: boolean
  readonly well: {
    /** Resting water level to the tank's inlet. */
    readonly liftM: number
    /** Resting water above the pump's intake. */
    readonly staticM: number
    /** Inflow for each metre of drawdown. */
    readonly inflowLMinPerM: number
    /** Stored in each metre of the bore. */
    readonly storedLPerM: number
    readonly restAfterDryS: number
  }
  /** A permanent-magnet DC motor on a displacement pump: current follows torque, flow follows speed. */
  readonly pump: {
    readonly idleA: number
    readonly ampsPerM: number
    readonly cableOhm: number
    readonly windingOhm: number
    readonly flowLMinPerV: number
    /** Water in the drop pipe, and how much of it runs back through the weep hole while the pump rests. */
    readonly pipeL: number
    readonly weepL: number
    /** Light current for this long makes the control rest the well. */
    readonly dryTripS: number
  }
  readonly battery: {
    readonly chemistry: Chemistry
    readonly nominalV: number
    readonly capacityAh: number
    readonly ohmAt20C: number
    /** Pump and house are cut off below, and joined again above. */
    readonly cutOffV: number
    readonly reconnectV: number
    /** The boards themselves go dark below. */
    readonly darkV: number
    readonly absorbV: number
    readonly floatV: number
  }
  readonly array: {
    readonly ratedW: number
    readonly tiltDeg: number
    readonly facingDeg: number
    readonly workingV: number
    readonly openV: number
  }
  readonly loads: { readonly standingW: number; readonly eveningW: number }
  readonly climate: {
    readonly yearMeanC: number
    readonly yearSwingC: number
    /** Share of the sky that is clouded on the average day. */
    readonly cloud: number
    /** A clear night would end this far below the mass of air. */
    readonly nightDropC: number
    /** The mass of air is this much warmer than its dew point under the average sky. */
    readonly dewBelowC: number
  }
  /** Time in which the watched line follows the air. */
  readonly line: { readonly followsH: number; readonly waterC: number }
  readonly people: number
  /** The pressure pump of the house; null: nothing watches it. */
  readonly house: HousePlan | null
}

const JUNIPER: SitePlan = {
  id: 'juniper',
  timezone: 'America/Los_Angeles',
  latitudeDeg: 39.2,
  longitudeDeg: -117.4,
  tank: { areaM2: (Math.PI * 1.24 ** 2) / 4, lowMarkM: 0.9, highMarkM: 1.07, fullM: 1.7, reserveL: 400 },
  probes: false,
  well: { liftM: 40, staticM: 12, inflowLMinPerM: 2, storedLPerM: 18.2, restAfterDryS: 1_800 },
  pump: {
    idleA: 1.4,
    ampsPerM: 0.0385,
    cableOhm: 0.35,
    windingOhm: 1,
    flowLMinPerV: 0.189,
    pipeL: 19.6,
    weepL: 2,
    dryTripS: 180,
  },
  battery: {
    chemistry: 'lifepo4',
    nominalV: 24,
    capacityAh: 100,
    ohmAt20C: 0.035,
    cutOffV: 24,
    reconnectV: 26,
    darkV: 20.4,
    absorbV: 28.4,
    floatV: 27,
  },
  array: { ratedW: 440, tiltDeg: 45, facingDeg: 180, workingV: 36, openV: 43.5 },
  loads: { standingW: 12, eveningW: 45 },
  climate: { yearMeanC: 9, yearSwingC: 10, cloud: 0.3, nightDropC: 9, dewBelowC: 9 },
  line: { followsH: 3, waterC: 12 },
  people: 2,
  house: HOUSE,
}

const FERN: SitePlan = {
  id: 'fern',
  timezone: 'America/New_York',
  latitudeDeg: 44.1,
  longitudeDeg: -72.6,
  tank: { areaM2: 1.2, lowMarkM: 0.55, highMarkM: 0.75, fullM: 1.2, reserveL: 250 },
  probes: true,
  well: { liftM: 30, staticM: 10, inflowLMinPerM: 3, storedLPerM: 18.2, restAfterDryS: 1_800 },
  pump: {
    idleA: 2.1,
    ampsPerM: 0.0765,
    cableOhm: 0.1,
    windingOhm: 0.4,
    flowLMinPerV: 0.394,
    pipeL: 9.4,
    weepL: 1.2,
    dryTripS: 180,
  },
  battery: {
    chemistry: 'agm',
    nominalV: 12,
    capacityAh: 120,
    ohmAt20C: 0.012,
    cutOffV: 11.4,
    reconnectV: 12.6,
    darkV: 10.3,
    absorbV: 14.4,
    floatV: 13.6,
  },
  array: { ratedW: 200, tiltDeg: 50, facingDeg: 180, workingV: 18, openV: 22 },
  loads: { standingW: 6, eveningW: 15 },
  climate: { yearMeanC: 6, yearSwingC: 12, cloud: 0.5, nightDropC: 7, dewBelowC: 4 },
  line: { followsH: 1.5, waterC: 9 },
  people: 2,
  house: null,
}

/** The plan of a built-in site. */
export function planOf(site: SiteId): SitePlan {
  return site === 'juniper' ? JUNIPER : FERN
}

/** The boards that stand at a place. */
export function boardsOf(plan: SitePlan): readonly BoardId[] {
  return plan.house === null ? BOARD_IDS.filter((id) => id !== 'house-board') : BOARD_IDS
}

/** What may differ at a place of the same build. */
export type PlanChange = {
  readonly arrayRatedW?: number
  /** Inflow for each metre of drawdown, and the resting water above the intake. */
  readonly inflowLMinPerM?: number
  readonly staticM?: number
}

/** The plan with these figures in place of its own. */
export function changed(plan: SitePlan, change: PlanChange): SitePlan {
  const { arrayRatedW, inflowLMinPerM, staticM } = change
  return {
    ...plan,
    array: { ...plan.array, ratedW: arrayRatedW ?? plan.array.ratedW },
    well: {
      ...plan.well,
      inflowLMinPerM: inflowLMinPerM ?? plan.well.inflowLMinPerM,
      staticM: staticM ?? plan.well.staticM,
    },
  }
}

/** Current that this pump draws when it lifts water from its usual drawdown, A. */
export function usualCurrentA(plan: SitePlan): number {
  // A slow well is drawn down for as long as the pump runs: the usual is then that of half its water.
  const drawdownM = Math.min(4 / plan.well.inflowLMinPerM, plan.well.staticM / 2)
  return plan.pump.idleA + plan.pump.ampsPerM * (plan.well.liftM + drawdownM)
}
