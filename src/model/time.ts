/**
 * An instant: whole milliseconds since 1970-01-01T00:00:00Z. Inside the program every time is one of these;
 * seconds appear only at the edge (SenML, captures, the HTTP API).
 */
export type Ms = number

export const SECOND = 1_000
export const MINUTE = 60_000
export const HOUR = 3_600_000
export const DAY = 86_400_000

/** As people read them; January is 0. */
export const MONTH_NAMES = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
] as const
