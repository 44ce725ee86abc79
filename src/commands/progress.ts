/** Progress and time left on a terminal, nothing when piped. */
import type { Surroundings } from './words.js'

const EVERY_MS = 500

export type Progress = { to(done: number, detail: () => string): void; end(): void }

/** `total` in whatever unit `to` counts; null: not known, so only what is done is shown. */
export function progress({ err, clock, terminal }: Surroundings, total: number | null): Progress {
  const began = clock.monotonic()
  let shown = began - EVERY_MS
  return {
    to(done, detail) {
      if (!terminal) return
      const now = clock.monotonic()
      if (now - shown < EVERY_MS) return
      shown = now
      const seconds = (now - began) / 1000
      const left = total !== null && done > 0 ? Math.max(0, (seconds / done) * (total - done)) : null
      const share = total === null ? '' : `${Math.min(100, Math.round((100 * done) / Math.max(1, total)))} %  `
      err(`\r\u001b[K${share}${detail()}${left === null ? '' : `  ${Math.ceil(left)} s left`}`)
    },
    end() {
      if (terminal) err('\r\u001b[K')
    },
  }
}
