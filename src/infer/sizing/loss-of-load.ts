/** The plainest form of a stand-alone supply: what is short over a series, for properties that must hold of any. */

export type LossOfLoad = {
  /** Mean generation over mean load, and usable storage over mean load (Lorenzo's CA and CS). */
  readonly ca: number
  readonly cs: number
  /** Energy that was short over energy that was asked for, 0…1. */
  readonly llp: number
}

/** One step after the other, from a full store without losses. Series of the same length; loads must not all be 0. */
export function lossOfLoad(generationWh: readonly number[], loadWh: readonly number[], storageWh: number): LossOfLoad {
  let stored = storageWh
  let asked = 0
  let short = 0
  let made = 0
  for (let i = 0; i < loadWh.length; i += 1) {
    const load = loadWh[i] ?? 0
    const generation = generationWh[i] ?? 0
    asked += load
    made += generation
    stored += generation - load
    if (stored > storageWh) stored = storageWh
    if (stored < 0) {
      short -= stored
      stored = 0
    }
  }
  return { ca: made / asked, cs: (storageWh * loadWh.length) / asked, llp: short / asked }
}
