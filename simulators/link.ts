/** The way from the boards to the broker in a capture: delays, outages, and the backlog that boards keep and send later. */
import type { Ms } from '../src/model/time.js'
import { type BoardClock, type Pack, payloadOf } from './boards.js'
import { InOrder } from './in-order.js'
import { type OutageOptions, Outages } from './outages.js'
import { BOARD_IDS, type BoardId } from './plan.js'
import { Random } from './random.js'
import type { World } from './world.js'

/** One message as the broker would have received it. */
export type Message = { readonly at: Ms; readonly topic: string; readonly payload: string }

export type LinkOptions = OutageOptions & { readonly clock?: BoardClock }

/** A board keeps this many packs at most (3.5 days) and then forgets the oldest. */
export const BACKLOG_MAX = 30_000
const BACKLOG_GAP_MS = 40
const RECONNECT_MS = 3_000

export class Link {
  readonly ready = new InOrder<Message>()
  readonly #world: World
  readonly #random: Random
  /** Of the house's board, so that with it the others' messages take the time that they take without. */
  readonly #houseRandom: Random
  readonly #clock: BoardClock
  readonly #outages: Outages
  readonly #kept: Record<BoardId, Pack[]> = { 'tank-board': [], 'pump-board': [], 'house-board': [] }
  readonly #lastAt: Record<BoardId, Ms> = { 'tank-board': 0, 'pump-board': 0, 'house-board': 0 }
  #down = false
  #shuffleS = 0

  constructor(world: World, seed: number, options: LinkOptions) {
    this.#world = world
    this.#random = new Random(seed, 'link')
    this.#houseRandom = new Random(seed, 'link of the house')
    this.#clock = options.clock ?? 'synced'
    this.#outages = new Outages(seed, options, world.now)
  }

  /** Once a second. */
  second(at: Ms): void {
    const down = this.#outages.second(at) || this.#world.effects.linkDown
    if (down === this.#down) return
    this.#down = down
    this.#world.witness.mark(at, down ? 'link-down' : 'link-up')
    if (!down) for (const board of BOARD_IDS) this.#flush(board, at + RECONNECT_MS)
  }

  offer(pack: Pack): void {
    const { effects } = this.#world
    const kept = this.#kept[pack.board]
    if (this.#down) {
      // The order out of which a backlog is put is that of the outage in which it was kept.
      this.#shuffleS = effects.shuffleS
      kept.push(pack)
      if (kept.length > BACKLOG_MAX) kept.shift()
      return
    }
    const delayMs = Math.round(20 + this.#chance(pack.board).wait(60))
    this.#deliver(pack, Math.max(pack.at + delayMs, this.#lastAt[pack.board] + 1))
  }

  #flush(board: BoardId, from: Ms): void {
    const windowMs = this.#shuffleS * 1_000
    const places = this.#kept[board].map((pack) => ({
      pack,
      place: pack.at + windowMs * this.#chance(board).between(-1, 1),
    }))
    if (windowMs > 0) places.sort((a, b) => a.place - b.place)
    this.#kept[board] = []
    let at = Math.max(from, this.#lastAt[board] + 1)
    for (const { pack } of places) {
      this.#deliver(pack, at)
      at += BACKLOG_GAP_MS
    }
  }

  #chance(board: BoardId): Random {
    return board === 'house-board' ? this.#houseRandom : this.#random
  }

  #deliver(pack: Pack, at: Ms): void {
    this.#lastAt[pack.board] = at
    const { effects, plan, witness } = this.#world
    const message = { at, topic: `water/${plan.id}/${pack.board}`, payload: payloadOf(pack, at, this.#clock) }
    witness.truth.lastWord[pack.board] = at
    this.ready.add(message)
    if (effects.repeatShare === 0 || !this.#chance(pack.board).chance(effects.repeatShare)) return
    for (let copy = 0; copy < effects.repeatCopies; copy++) {
      this.ready.add({
        ...message,
        at: at + 1 + Math.floor(this.#chance(pack.board).next() * effects.repeatLateS * 1_000),
      })
    }
  }
}
