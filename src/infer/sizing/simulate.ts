/** A supply lived through hour by hour: array, battery and loads, with what the cold and the charging take. */

/** Years of hours, made once and lived through by every option. 24 hours a day, from midnight by the sun. */
export type Course = {
  readonly days: number
  /** Month of each day, 0…11. */
  readonly monthOf: Uint8Array
  /** What a watt of array gives in the hour, Wh, after the converter. */
  readonly perW: Float32Array
  /** What is asked for, Wh. */
  readonly askedWh: Float32Array
  /** What is left of the battery's capacity in this cold, and whether it takes charge (1 or 0). */
  readonly capacity: Float32Array
  readonly takes: Uint8Array
}

export type Supply = {
  readonly arrayW: number
  /** What may be drawn of the battery at 25 °C, Wh. */
  readonly usableWh: number
  readonly efficiency: number
}

export type Lived = {
  /** Days on which some of the load could not be met, by month. */
  readonly shortByMonth: Float64Array
  shortDays: number
  shortWh: number
  askedWh: number
}

export function nothingLived(): Lived {
  return { shortByMonth: new Float64Array(12), shortDays: 0, shortWh: 0, askedWh: 0 }
}

/** So much of a day's load may be missing without the day counting as short: a lamp that went out at dawn. */
const SHORT_SHARE = 0.02

/** Lives the course with a supply, from a battery four fifths full, and adds to `lived`. */
export function live(course: Course, supply: Supply, lived: Lived): void {
  const { days, perW, askedWh, capacity, takes, monthOf } = course
  const { arrayW, usableWh, efficiency } = supply
  let stored = 0.8 * usableWh
  for (let day = 0; day < days; day += 1) {
    let short = 0
    let asked = 0
    for (let i = day * 24; i < day * 24 + 24; i += 1) {
      const load = askedWh[i] ?? 0
      const over = arrayW * (perW[i] ?? 0) - load
      const room = usableWh * (capacity[i] ?? 1)
      asked += load
      if (over >= 0) {
        if (takes[i] === 1) stored = Math.min(room, stored + over * efficiency)
        continue
      }
      stored = Math.min(stored, room) + over
      if (stored < 0) {
        short -= stored
        stored = 0
      }
    }
    lived.askedWh += asked
    lived.shortWh += short
    if (short <= SHORT_SHARE * asked) continue
    lived.shortDays += 1
    const month = monthOf[day] ?? 0
    lived.shortByMonth[month] = (lived.shortByMonth[month] ?? 0) + 1
  }
}
