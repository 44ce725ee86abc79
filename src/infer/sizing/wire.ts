/** Copper between panel and battery: how thick it must be. */

/** Gauges that are sold, AWG numbers; 0, −1, −2, −3 stand for 1/0 … 4/0. */
const GAUGES = [14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3] as const
/** Resistivity at 75 °C that gives the solid-conductor ohms of NEC chapter 9, table 8: 10.371 Ω·cmil/ft at 20 °C, × 1.2156. */
const OHM_M2_PER_M_75C = 2.0958e-8
/** Loss that is let pass between panel and battery [common practice]. */
const DROP_MAX = 0.03
const ONE_WAY_M = 10

/** Diameter of a solid wire, mm: ASTM B258, 0.005 in · 92^((36 − n)/39). */
export function awgDiameterMm(gauge: number): number {
  return 25.4 * 0.005 * 92 ** ((36 - gauge) / 39)
}

/** Area in circular mils: the diameter in thousandths of an inch, squared. */
export function circularMils(gauge: number): number {
  return (awgDiameterMm(gauge) / 0.0254) ** 2
}

/** Resistance of solid copper at 75 °C, Ω per km. */
export function ohmPerKm(gauge: number): number {
  const areaM2 = (Math.PI / 4) * (awgDiameterMm(gauge) / 1000) ** 2
  return (OHM_M2_PER_M_75C / areaM2) * 1000
}

/** The same at another temperature: NEC chapter 9, table 8, note 2 (from memory). */
export function ohmAt(ohm75C: number, celsius: number): number {
  return ohm75C * (1 + 0.00323 * (celsius - 75))
}

/** Fall of voltage over both wires of a run, V. */
export function voltageDrop(amperes: number, oneWayM: number, ohmKm: number): number {
  return (2 * amperes * oneWayM * ohmKm) / 1000
}

export function awgName(gauge: number): string {
  return gauge > 0 ? `${gauge} AWG` : `${1 - gauge}/0 AWG`
}

/** The thinnest wire that keeps the loss over a run of 10 m under 3 % at the array's full current into the battery. */
export function wireFor(arrayW: number, volts: number) {
  const amperes = arrayW / volts
  for (const gauge of GAUGES) {
    const dropShare = voltageDrop(amperes, ONE_WAY_M, ohmPerKm(gauge)) / volts
    if (dropShare <= DROP_MAX) return { awg: awgName(gauge), oneWayM: ONE_WAY_M, amperes, dropShare }
  }
  return null
}
