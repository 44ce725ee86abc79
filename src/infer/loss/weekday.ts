/** Day of the week of a local date; 0 is Sunday. Pure arithmetic on the date's own digits. */
export function dateWeekday(date: string): number {
  return new Date(`${date}T00:00:00Z`).getUTCDay()
}
