declare module 'psychrolib' {
  /** The part of PsychroLib 2.5 (npm psychrolib 1.1.1, which has no types of its own) that is used here. */
  const psychrolib: {
    readonly SI: unknown
    SetUnitSystem(system: unknown): void
    GetTDewPointFromRelHum(dryBulbC: number, relativeHumidity: number): number
    GetSatVapPres(dryBulbC: number): number
    GetTDewPointFromVapPres(dryBulbC: number, vapourPressurePa: number): number
    GetTWetBulbFromRelHum(dryBulbC: number, relativeHumidity: number, pressurePa: number): number
    GetHumRatioFromTWetBulb(dryBulbC: number, wetBulbC: number, pressurePa: number): number
    GetStandardAtmPressure(altitudeM: number): number
  }
  export default psychrolib
}
