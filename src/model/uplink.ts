/** The account of a place's own daemon at the broker in town is named like this, or `site-uplink`; no board may be. */
export const UPLINK = 'uplink'

/** Where the daemon at a place publishes what it sends up. */
export function uplinkTopic(site: string): string {
  return `water/${site}/${UPLINK}`
}
