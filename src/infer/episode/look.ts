import type { EpisodeFacts } from '../../model/facts-episode.js'
import { MINUTE, type Ms } from '../../model/time.js'
import type { EngineState } from '../state.js'
import { lookAtChatter } from './chatter.js'
import { lookAtSlowWell } from './slow-well.js'

export function emptyEpisode(): EpisodeFacts {
  return {
    open: false,
    active: false,
    since: null,
    starts: 0,
    rests: 0,
    litresPerStart: null,
    litresPerRestH: null,
    recoveryLH: null,
    mayRestUntil: null,
    known: false,
    usualLPerRestH: null,
    asUsual: false,
    fallenTo: null,
    chatterSince: null,
    switchesPerMin: 0,
  }
}

export function lookAtEpisode(state: EngineState, at: Ms, out: EpisodeFacts): void {
  lookAtSlowWell(state, at, out)
  lookAtChatter(state, at)
  const { chatter } = state.episode
  out.chatterSince = chatter.since
  const first = chatter.flips.find((t) => at - t <= 3 * MINUTE)
  const n = first === undefined ? 0 : chatter.flips.length - chatter.flips.indexOf(first)
  out.switchesPerMin =
    chatter.since === null || first === undefined || at <= first ? 0 : n / Math.max(1, (at - first) / MINUTE)
}
