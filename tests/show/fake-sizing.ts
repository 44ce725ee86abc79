/** A made-up answer of `size` for the tests of the page. */
import type { SizeOption, SizingResult } from '../../src/model/sizing.js'

function option(arrayW: number, batteryAh: number, days: number): SizeOption {
  const range = [days / 3, days * 2.5] as const
  const rest = { worstMonth: 12, lossOfLoad: days / 2000, present: arrayW === 440 && batteryAh === 100 }
  return { arrayW, batteryAh, shortDaysPerYear: days, shortDaysCi95: range, ...rest }
}

export function fakeSizing(site: string, needL: number | null, shortDaysAllowed: number): SizingResult {
  const options = [option(440, 100, 5.2), option(440, 200, 1.1), option(650, 100, 2.4), option(650, 200, 0.3)]
  return {
    site,
    verdict: 'answered',
    reason: null,
    shortDaysAllowed,
    basis: {
      from: Date.UTC(2025, 10, 20),
      to: Date.UTC(2026, 1, 2),
      usableDays: 71,
      heldBackDays: 40,
      missingDays: 3,
      measuredMonths: [1, 11, 12],
      besideMonths: [2, 10],
      uncoveredMonths: [3, 4, 5, 6, 7, 8, 9],
      loadWhPerDay: 770,
      pumpWhPerDay: 155,
      usedLPerDay: 210,
      needLPerDay: needL ?? 210,
      loadFrom: 'measured',
      performance: 0.82,
      shade: 0.9,
      shadeByHour: [
        { hourUtc: 16, transmission: 0.31 },
        { hourUtc: 19, transmission: 1 },
      ],
      soiled: [],
      sunOverLoad: 1.6,
      storedDays: 2.5,
      tankDays: 6.1,
      chemistry: 'lifepo4',
      volts: 24,
      depth: 0.9,
      agedShare: 0.9,
      years: 300,
    },
    options,
    recommended: options[3] ?? null,
    sure: options[3] ?? null,
    changes: [{ change: 'pump-at-noon', words: 'pump about noon only', shortDaysPerYear: 4.1, shortDaysCi95: [1, 9] }],
    hand: {
      month: 12,
      loadWh: 770,
      sunHours: 3.5,
      derate: 0.72,
      autonomyDays: 4,
      depth: 0.9,
      cold: 1.07,
      arrayW: 306,
      batteryAh: 153,
    },
    wire: { awg: '6 AWG', oneWayM: 10, amperes: 27, dropShare: 0.029 },
    cautions: ['No data covers March to September.'],
  }
}
