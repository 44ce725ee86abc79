/** Faults that look the same to these sensors. Within a group another name is no wrong diagnosis; each is documented. */
import type { Expectation } from './expectations.js'

export const GROUPS: readonly { readonly of: string; readonly because: string }[] = [
  {
    of: 'a dry well, lost prime, a broken coupling or rod',
    because:
      'the pump turns and lifts nothing: the same light current. Told as dry-well with all causes; light from the first second points to the pump, light after normal running to the well',
  },
  {
    of: 'a worn pump, a clogged or scaled line, a hole in the drop pipe or a split line',
    because:
      'less water arrives for the same run. Told as fill-long, no-rise, yield-falling or energy-rising by how much is missing; the current tells worn and holed (lower) from clogged (higher) only where it moves by more than its own noise',
  },
  {
    of: 'a blown fuse, an open relay, a broken wire, a locked rotor whose fuse blew within seconds',
    because: 'nothing flows any more, and what happened lay between two samples of 10 s. Told as pump-no-start',
  },
  {
    of: 'a leak, a tap left open, a burst line after the tank, a running toilet',
    because: 'water leaves the tank. Told as leak, or as tank-low where the tank empties before a leak can be proved',
  },
  {
    of: 'a level sensor that stands still, water that does not arrive, a pump that is not stopped',
    because: 'the level is the only witness of all three. Told as what the current and the probes support',
  },
  {
    of: 'a lost supply at the place, a dead link, an empty battery',
    because:
      'nothing comes any more. Told as site-silent, with the last voltage; battery-low where it was seen to fall',
  },
]

/** "fill-long, tank-low": what else may be told of a kind, being its consequence or the same from outside. */
export function alsoRight({ alsoRight: ids, says, except }: Expectation): string {
  const more = (except ?? []).flatMap((one) => [...(one.says === undefined ? [] : [one.says]), ...(one.or ?? [])])
  return [...new Set([...ids, ...more])].filter((id) => id !== says).join(', ')
}
