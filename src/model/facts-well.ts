/** The well as its own level sensor shows it; all null without one. */
import type { Ms } from './time.js'

export type WellFacts = {
  /** Water above the pump's intake, m. */
  levelM: number | null
  /** At rest before the latest run, and how far it has been drawn down since, m. */
  restM: number | null
  drawdownM: number | null
  /** Specific capacity ten minutes into a run, litres a minute for each metre: the latest, and what is usual. */
  capacityLMinM: number | null
  usualCapacityLMinM: number | null
  capacityRuns: number
  /** Share of the drawdown that was back ten minutes after the latest stop, 0…1, and what is usual. */
  recovered: number | null
  usualRecovered: number | null
  capacityAt: Ms | null
}

export function emptyWellFacts(): WellFacts {
  return {
    levelM: null,
    restM: null,
    drawdownM: null,
    capacityLMinM: null,
    usualCapacityLMinM: null,
    capacityRuns: 0,
    recovered: null,
    usualRecovered: null,
    capacityAt: null,
  }
}
