/**
 * A pipe full of standing water in the cold: how it follows what is around it, when it reaches 0 °C, when it is ice.
 * ASHRAE Handbook, Fundamentals, ch. 23 (insulation), and the same in ISO 12241: heat leaves through the insulation
 * alone, wall and film are left out of the cooling time where their resistance is given as 0.
 */
import type { LineSettings } from '../../model/settings.js'

/** Water: kg/m³, J/(kg K), and J/kg to freeze it. */
const WATER = { density: 1000, heat: 4186.8, freezing: 334_000 } as const
/** Foam on pipes, W/(m K), and the film of sheltered air outside, W/(m² K) [common practice]. */
const FOAM_K = 0.04
const FILM = 10
/** A wall of plastic pipe adds this much to the inside radius, m, and this share to the heat that water holds. */
const WALL_M = 0.0035
const WALL_HEAT_SHARE = 0.25
/** A box or shed keeps the line from the air by about this, h [common practice]. */
const BOX_H = 3
/** While neither diameter nor insulation is given [common practice]. */
const UNKNOWN_H = { exposed: 0.75, boxed: 4, buried: 240 } as const

export type Pipe = {
  /** Hours in which it comes 63 % of the way to what is around it. */
  readonly timeConstantH: number
  /** Heat of freezing, as °C of further cooling. */
  readonly iceC: number
}

/** Resistance of a cylinder of insulation for each metre of pipe, m K/W. */
export function insulationResistance(outsideM: number, insulatedM: number, k: number): number {
  return Math.log(insulatedM / outsideM) / (2 * Math.PI * k)
}

/** Heat that the standing water gives up for each metre and °C, J/(m K). */
export function waterHeat(insideDiameterM: number): number {
  return (WATER.density * WATER.heat * Math.PI * insideDiameterM ** 2) / 4
}

/**
 * Hours until standing water has cooled from `waterC` to `toC` in air of `airC`: C·R·ln((t_w − t_a)/(t_to − t_a)).
 * 0 where it is there already; null where it never comes there.
 */
export function coolingHours(timeConstantH: number, waterC: number, airC: number, toC = 0): number | null {
  if (waterC <= toC) return 0
  if (airC >= toC) return null
  return timeConstantH * Math.log((waterC - airC) / (toC - airC))
}

/** Hours from 0 °C until it is frozen through, in air that stays at `airC`; null where it does not freeze. */
export function freezingHours(pipe: Pipe, airC: number): number | null {
  return airC >= 0 ? null : (pipe.timeConstantH * pipe.iceC) / -airC
}

/** What the configuration says of a line, as a pipe. */
export function pipeOf(line: Pick<LineSettings, 'kind' | 'insideDiameterM' | 'insulationM'>): Pipe {
  const share = 1 / (1 + WALL_HEAT_SHARE)
  const iceC = (WATER.freezing / WATER.heat) * share
  const { insideDiameterM, insulationM } = line
  if (line.kind === 'buried' || insideDiameterM === null) return { timeConstantH: UNKNOWN_H[line.kind], iceC }
  const outsideM = insideDiameterM + 2 * WALL_M
  const insulatedM = outsideM + 2 * (insulationM ?? 0)
  const resistance = insulationResistance(outsideM, insulatedM, FOAM_K) + 1 / (FILM * Math.PI * insulatedM)
  const hours = (resistance * waterHeat(insideDiameterM) * (1 + WALL_HEAT_SHARE)) / 3600
  return { timeConstantH: hours + (line.kind === 'boxed' ? BOX_H : 0), iceC }
}

/** Standing water on its way: temperature, and how much of it is ice, 0…1. */
export type Standing = { c: number; ice: number }

/** Moves it on by `hours` in surroundings of `aroundC`. Between water and ice it stays at 0 °C. */
export function stand(water: Standing, pipe: Pipe, aroundC: number, hours: number): void {
  const share = 1 - Math.exp(-hours / pipe.timeConstantH)
  const next = water.c + (aroundC - water.c) * share
  const between = water.ice > 0 && water.ice < 1
  if (!between && !(water.ice === 0 && next < 0) && !(water.ice === 1 && next > 0)) {
    water.c = next
    return
  }
  const change = between ? ((aroundC - 0) * hours) / pipe.timeConstantH : next
  const ice = water.ice - change / pipe.iceC
  water.ice = Math.max(0, Math.min(1, ice))
  water.c = ice > 1 ? (1 - ice) * pipe.iceC : ice < 0 ? -ice * pipe.iceC : 0
}
