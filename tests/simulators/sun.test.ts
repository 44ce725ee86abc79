import { expect, test } from 'vitest'
import { clearSkyKwM2, onPanelKwM2, sunPlace } from '../../simulators/sun.js'
import { MINUTE } from '../../src/model/time.js'

test('the sun stands where the worked example of the Solar Position Algorithm puts it', () => {
  // Reda & Andreas, NREL/TP-560-34302 (2003, rev. 2008), appendix A.5: 2003-10-17 12:30:30 UTC−7, 39.742476° N,
  // 105.1786° W: topocentric elevation without refraction 39.872046°, azimuth 194.340241°.
  const sun = sunPlace(Date.UTC(2003, 9, 17, 19, 30, 30), 39.742476, -105.1786)
  expect(Math.abs(sun.elevationDeg - 39.872046)).toBeLessThan(0.05)
  expect(Math.abs(sun.azimuthDeg - 194.340241)).toBeLessThan(0.05)
})

test('the day is as long as FAO-56 example 9 says', () => {
  // Allen et al., FAO Irrigation and Drainage Paper 56 (1998), example 9: 20° S, 3 September, N = 11.7 h.
  let minutes = 0
  const start = Date.UTC(2026, 8, 3)
  for (let at = start; at < start + 1_440 * MINUTE; at += MINUTE) if (sunPlace(at, -20, 0).elevationDeg > 0) minutes++
  expect(Math.abs(minutes / 60 - 11.7)).toBeLessThan(0.1)
})

test('the clear sky gives what the formula of Haurwitz gives', () => {
  // Haurwitz 1945 in the form 1098·cos z·exp(−0.059/cos z); values by the test suite of an open reference library.
  for (const [elevationDeg, wattsM2] of [
    [5, 48.6298687941956],
    [10, 135.741748091813],
    [30, 487.894132885425],
    [90, 1035.0920325345],
    [-0.05, 0],
  ] as const) {
    expect(clearSkyKwM2(elevationDeg) * 1_000).toBeCloseTo(wattsM2, 6)
  }
})

test('a panel that faces the sun gets more than level ground, and one that faces away only diffuse light', () => {
  const sun = { elevationDeg: 30, azimuthDeg: 180 }
  const level = clearSkyKwM2(30)
  expect(onPanelKwM2(sun, level, 0, 60, 180)).toBeGreaterThan(1.6 * level)
  const away = onPanelKwM2(sun, level, 0, 90, 0)
  expect(away).toBeGreaterThan(0)
  expect(away).toBeLessThan(0.25 * level)
  expect(onPanelKwM2(sun, level, 0, 0, 180)).toBeCloseTo(level, 10)
})
