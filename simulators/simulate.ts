/** A site's days as a stream of messages, with the truth beside them. */
import { DAY, type Ms, SECOND } from '../src/model/time.js'
import { Board } from './boards.js'
import { Link, type LinkOptions, type Message } from './link.js'
import { boardsOf } from './plan.js'
import { type LevelSensor, Sensors } from './sensors.js'
import type { Truth } from './truth.js'
import { siteSeed, World, type WorldOptions } from './world.js'

export type SimulateOptions = WorldOptions & {
  readonly days: number
  readonly levelSensor?: LevelSensor
  /** Standard deviation of one reading of it, m. */
  readonly levelNoiseM?: number
  /** The pump's board measures the well's level, too. */
  readonly wellLevel?: boolean
  readonly link?: LinkOptions
}

export type Simulation = {
  /** In order of receipt. Lives the days as it is read: once through, bounded memory. */
  readonly messages: IterableIterator<Message>
  /** Grows as the messages are read; whole at their end. */
  readonly truth: Truth
}

/**
 * Simulates a built-in site: `for (const message of simulate({ site: 'juniper', seed: 1, startMs, days: 30 }).messages)`.
 * The same options give the same bytes. Throws where a fault cannot be at the site.
 */
export function simulate(options: SimulateOptions): Simulation {
  const world = new World(options)
  return { messages: live(world, options), truth: world.witness.truth }
}

function* live(world: World, options: SimulateOptions): Generator<Message, undefined> {
  const { boards, link } = equip(world, options)
  const end = options.startMs + Math.round(options.days * DAY)
  while (world.now < end) {
    const at = world.second()
    link.second(at)
    for (const board of boards) {
      while (board.nextAt < at + SECOND) {
        const pack = board.sample()
        if (pack !== null) link.offer(pack)
      }
    }
    yield* due(link, at)
  }
  world.witness.finish(end)
  yield* due(link, Number.POSITIVE_INFINITY)
}

function equip(world: World, options: SimulateOptions): { readonly boards: readonly Board[]; readonly link: Link } {
  const seed = siteSeed(options)
  const sensors = new Sensors(world, seed, options.levelSensor ?? 'pressure', options.levelNoiseM)
  if (options.wellLevel === true) sensors.watchWell(seed)
  const boards = boardsOf(world.plan).map((id) => new Board(id, world, sensors, seed, options.startMs))
  return { boards, link: new Link(world, seed, options.link ?? {}) }
}

/** What has been received by then. A message sent in this second arrives after it began. */
function* due(link: Link, until: Ms): Generator<Message> {
  for (let message = link.ready.take(until); message !== null; message = link.ready.take(until)) yield message
}
