/**
 * Two-sided tabular CUSUM (Page 1954, in the form of Montgomery & Runger, ch. 16): sums of what lies beyond `slack` on
 * either side of the target, never below 0. A sum beyond its limit says that the mean has moved by about 2 · slack or
 * more. Units are those of the values; with standardised values, slack and limit are the textbook's k and h.
 */
export type Cusum = { readonly up: number; readonly down: number }

export const CUSUM_START: Cusum = { up: 0, down: 0 }

/** The sums after the next value. A head start (Lucas & Crosier 1982) is a `before` that does not begin at 0. */
export function nextCusum(before: Cusum, value: number, target: number, slack: number): Cusum {
  return {
    up: Math.max(0, before.up + value - target - slack),
    down: Math.max(0, before.down + target - slack - value),
  }
}

/**
 * Mean number of in-control values until a one-sided sum passes its limit: Siegmund's approximation (1985), with the
 * overshoot of 1.166 standard deviations. `slack` and `limit` in standard deviations; `shift` is the true mean's, 0 when
 * nothing has moved.
 */
export function meanRunLength(slack: number, limit: number, shift = 0): number {
  const drift = shift - slack
  const reach = limit + 1.166
  if (Math.abs(drift) < 1e-9) return reach * reach
  return (Math.exp(-2 * drift * reach) + 2 * drift * reach - 1) / (2 * drift * drift)
}
