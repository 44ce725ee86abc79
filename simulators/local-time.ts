import { DAY, HOUR, MINUTE, type Ms } from '../src/model/time.js'

/** A place's own clock, quick enough to be asked each simulated minute: the offset is looked up once an hour. */
export class LocalTime {
  readonly #format: Intl.DateTimeFormat
  #hour = Number.NaN
  #offsetMs = 0

  constructor(timezone: string) {
    this.#format = new Intl.DateTimeFormat('en-US', {
      timeZone: timezone,
      hourCycle: 'h23',
      year: 'numeric',
      month: '2-digit',
      day: '2-digit',
      hour: '2-digit',
      minute: '2-digit',
    })
  }

  /** Local less universal time, ms. Changes of summer time fall on whole hours. */
  offsetMs(at: Ms): number {
    const hour = Math.floor(at / HOUR)
    if (hour !== this.#hour) {
      this.#hour = hour
      this.#offsetMs = this.#lookUp(hour * HOUR)
    }
    return this.#offsetMs
  }

  /** Hours after local midnight, 0…24. */
  hourOfDay(at: Ms): number {
    const local = at + this.offsetMs(at)
    return (local - Math.floor(local / DAY) * DAY) / HOUR
  }

  /** YYYY-MM-DD. */
  date(at: Ms): string {
    return new Date(at + this.offsetMs(at)).toISOString().slice(0, 10)
  }

  #lookUp(at: Ms): number {
    const part: Record<string, number> = {}
    for (const { type, value } of this.#format.formatToParts(new Date(at))) part[type] = Number(value)
    const local = Date.UTC(part.year ?? 0, (part.month ?? 1) - 1, part.day ?? 1, part.hour ?? 0, part.minute ?? 0)
    return local - Math.floor(at / MINUTE) * MINUTE
  }
}
