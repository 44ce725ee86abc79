/** Where on Earth: what the sun's place depends on besides the time. */
import type { SiteSettings } from '../../model/settings.js'

export type Place = { readonly latitudeDeg: number; readonly longitudeDeg: number; readonly elevationM: number }

/** The site's place; null where the configuration gives no latitude or longitude: then nothing is said of the sun. */
export function placeOf(site: SiteSettings): Place | null {
  const { latitudeDeg, longitudeDeg, elevationM } = site
  return latitudeDeg === null || longitudeDeg === null ? null : { latitudeDeg, longitudeDeg, elevationM }
}

export const DEG = Math.PI / 180
