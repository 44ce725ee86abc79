/** What faults can change about a place, as one flat record that the physics, sensors and boards read each second. */

import type { BoardId } from './plan.js'

export type Effects = {
  /** Well: shares of its usual resting water above the intake, and of its usual inflow. */
  wellStaticShare: number
  wellInflowShare: number
  /** Current of a pump that moves no water, as a share of its usual. */
  dryCurrentShare: number
  /** Seconds of light current after which the control rests the well; Infinity: this control does not look. NaN: the site's own. */
  dryTripS: number
  /** Seconds for which the control then rests the well. NaN: the site's own. */
  restAfterDryS: number
  /** A control that chatters while it calls: seconds on and off, each time up to twice as long. 0: it does not. */
  chatterOnS: number
  chatterOffS: number
  primeLost: boolean
  /** Multiple of the water that runs back out of the drop pipe between runs. */
  weepShare: number
  /** 0: the rotor is free; else the multiple of the usual current that a locked one draws. */
  lockedShare: number
  lockedGuard: 'none' | 'trips' | 'fuse'
  circuitOpen: boolean
  /** Share of the pumped water that reaches the tank. */
  arrivesShare: number
  /** Share of the head that the pump works against. */
  headShare: number
  /** 0: open; else the multiple of the usual current against a shut or frozen outlet. */
  shutShare: number
  /** Share of the pump's usual flow for its speed, and of its usual torque. */
  yieldShare: number
  torqueShare: number
  /** Seconds past the high mark for which a welded control keeps the pump on; 0: it stops as it should. */
  stuckOnS: number
  /** Water that somebody or a burst pipe takes, l/min. */
  extraDrawLMin: number
  /** At the height of the low mark; falls with the root of the head. */
  leakLH: number
  arrayShare: number
  extraLoadW: number
  capacityShare: number
  resistanceShare: number
  /** Voltage that dead cells no longer give, as a share of nominal. */
  voltageLostShare: number
  /** The protection that should refuse charge below 0 °C does not. */
  chargesCold: boolean
  /** NaN: as the weather goes. */
  airMassC: number
  cloud: number
  /** Share of the accumulator's air that is left. */
  houseAirShare: number
  /** Out of the house's pipes, and back to the tank through the check valve while the pump rests; half-way between the switch's marks. */
  houseLeakLH: number
  houseBackLH: number
  houseBurstLMin: number
  /** The pressure pump gets air instead of water; its switch has welded. */
  houseDry: boolean
  houseSwitchStuck: boolean
  houseYieldShare: number
  /** The pump's board is away for so long in each so many seconds; 0: it is not. */
  restartEveryS: number
  /** Every message of this board is cut off. */
  garbledBoard: 'none' | BoardId
  restartForS: number
  /** What the sensors say, multiplied; degrees Fahrenheit for Celsius; one value for ever. */
  voltageScale: number
  levelScale: number
  airFahrenheit: boolean
  lineFahrenheit: boolean
  voltageStuck: boolean
  deadBoard: 'none' | BoardId | 'all'
  /** Seconds for which the pump's board is out at each start, because its supply dips. */
  brownOutS: number
  linkDown: boolean
  /** Seconds within which a backlog is put out of order. */
  shuffleS: number
  levelStuck: boolean
  /** Share of level readings that fail, and what they say: full scale, a jump, or no number at all. */
  levelFailShare: number
  levelFails: 'rail' | 'spike' | 'nan'
  levelUnit: 'm' | 'cm' | 'none'
  lowProbe: 'true' | 'dry' | 'flickers'
  highProbe: 'true' | 'wet'
  /** Height of waves at the probes, multiple of the usual. */
  waveShare: number
  thermometerFailShare: number
  thermometerSays: number
  /** Share of messages spoilt, and whose. */
  spoiltShare: number
  spoiltBoard: BoardId | 'all'
  repeatShare: number
  repeatCopies: number
  repeatLateS: number
  clock: 'good' | 'unset' | 'ahead' | 'empty-reply'
  currentZeroA: number
  /** The sensor gives its zero, or 0 V, whatever happens. */
  currentDead: boolean
  voltageDead: boolean
}

export const NO_EFFECTS: Readonly<Effects> = {
  wellStaticShare: 1,
  wellInflowShare: 1,
  dryCurrentShare: 0.52,
  dryTripS: Number.NaN,
  restAfterDryS: Number.NaN,
  chatterOnS: 0,
  chatterOffS: 0,
  primeLost: false,
  weepShare: 1,
  lockedShare: 0,
  lockedGuard: 'none',
  circuitOpen: false,
  arrivesShare: 1,
  headShare: 1,
  shutShare: 0,
  yieldShare: 1,
  torqueShare: 1,
  stuckOnS: 0,
  extraDrawLMin: 0,
  leakLH: 0,
  arrayShare: 1,
  extraLoadW: 0,
  capacityShare: 1,
  resistanceShare: 1,
  voltageLostShare: 0,
  chargesCold: false,
  airMassC: Number.NaN,
  cloud: Number.NaN,
  houseAirShare: 1,
  houseLeakLH: 0,
  houseBackLH: 0,
  houseBurstLMin: 0,
  houseDry: false,
  houseSwitchStuck: false,
  houseYieldShare: 1,
  restartEveryS: 0,
  garbledBoard: 'none',
  restartForS: 0,
  voltageScale: 1,
  levelScale: 1,
  airFahrenheit: false,
  lineFahrenheit: false,
  voltageStuck: false,
  deadBoard: 'none',
  brownOutS: 0,
  linkDown: false,
  shuffleS: 0,
  levelStuck: false,
  levelFailShare: 0,
  levelFails: 'rail',
  levelUnit: 'm',
  lowProbe: 'true',
  highProbe: 'true',
  waveShare: 1,
  thermometerFailShare: 0,
  thermometerSays: 85,
  spoiltShare: 0,
  spoiltBoard: 'all',
  repeatShare: 0,
  repeatCopies: 1,
  repeatLateS: 0,
  clock: 'good',
  currentZeroA: 0,
  currentDead: false,
  voltageDead: false,
}
