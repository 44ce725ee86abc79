/** One of the processes of `npm run site-years`. */
import { answerJobs } from '../in-processes.js'
import { PLACES } from './places.js'
import { type PlaceYear, runPlace } from './run-place.js'

export type PlaceJob = { readonly key: string; readonly place: string; readonly seed: number; readonly days: number }

answerJobs<PlaceJob, PlaceYear>(({ place, seed, days }) => {
  const found = PLACES.find(({ id }) => id === place)
  if (found === undefined) throw new Error(`no place is called ${place}`)
  return runPlace(found, seed, days, () => performance.now() / 1_000)
})
