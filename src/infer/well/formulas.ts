/** The plain formulas of a well: what it gives for each metre of drawdown, how it recovers. Any consistent units. */

/**
 * Specific capacity: flow over drawdown. It falls with the time that the pump has run, so that figures may be compared
 * only at equal run times.
 */
export function specificCapacity(flow: number, drawdown: number): number {
  return flow / drawdown
}

/** Drawdown to expect at another flow, near the one that was tried. */
export function drawdownAt(flow: number, capacity: number): number {
  return flow / capacity
}

/** Share of the drawdown at the stop that has come back, from levels (up positive). */
export function recoveredShare(restLevel: number, stopLevel: number, level: number): number {
  return (level - stopLevel) / (restLevel - stopLevel)
}

/**
 * Transmissivity from the drawdowns of two observation wells in steady flow (Thiem 1906): T = Q ln(r₂/r₁) / (2π(s₁ − s₂)).
 */
export function thiem(flow: number, r1: number, s1: number, r2: number, s2: number): number {
  return (flow * Math.log(r2 / r1)) / (2 * Math.PI * (s1 - s2))
}
