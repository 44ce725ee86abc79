/** A simulated site over real MQTT: its time runs `speed` times as fast as the wall's, from an agreed beginning. */
import { type Ms, SECOND } from '../src/model/time.js'
import { Board, payloadOf } from './boards.js'
import { type BrokerOptions, LiveBoard } from './live-board.js'
import { type OutageOptions, Outages } from './outages.js'
import { boardsOf } from './plan.js'
import { Random } from './random.js'
import { Sensors } from './sensors.js'
import { siteSeed, World, type WorldOptions } from './world.js'

/** Days that the site has lived before its boards go on the air: told as a capture, at once. */
export type Past = {
  readonly untilMs: Ms
  readonly take: (message: { readonly at: Ms; readonly topic: string; readonly payload: string }) => void
  /** Called when all of it is told; answers at which wall time the site's time is to be `untilMs`. */
  readonly ready: () => Promise<Ms>
}

export type LiveOptions = WorldOptions & {
  readonly broker: BrokerOptions
  readonly speed: number
  /** Wall time at which the site's time is `startMs`: the same for every process that shares the site's clock. */
  readonly wallStartMs: Ms
  readonly link?: OutageOptions
  readonly past?: Past
  readonly wallNow: () => Ms
  readonly log: (line: string) => void
}

export type LiveResult = {
  readonly sent: number
  readonly waiting: number
  readonly dropped: number
  readonly until: Ms
}

const TURN_MS = 50
/** Seconds lived in one turn at most, so that the sockets are served while a late start catches up. */
const SECONDS_A_TURN = 20_000

/** The site's time for a wall time. */
export function siteTime(options: Pick<LiveOptions, 'startMs' | 'wallStartMs' | 'speed'>, wall: Ms): Ms {
  return options.startMs + Math.round((wall - options.wallStartMs) * options.speed)
}

/** Runs until the signal is given, then leaves the broker and says what was sent. */
export async function runLive(options: LiveOptions, signal: AbortSignal): Promise<LiveResult> {
  const world = new World(options)
  const seed = siteSeed(options)
  const sensors = new Sensors(world, seed, 'pressure')
  const boards = boardsOf(world.plan).map((id) => ({
    sampler: new Board(id, world, sensors, seed, options.startMs),
    sender: new LiveBoard(options.site, id, options.broker, options.log),
  }))
  const outages = new Outages(seed, options.link ?? {}, options.startMs)
  const random = new Random(seed, 'live link')
  let down = false
  const second = (): void => {
    const at = world.second()
    const { effects } = world
    const nowDown = outages.second(at) || effects.linkDown
    const isPast = options.past !== undefined && at < options.past.untilMs
    for (const { sampler, sender } of boards) {
      if (down && !nowDown && effects.shuffleS > 0)
        sender.shuffle((a, b) => random.between(a, b), effects.shuffleS * SECOND)
      sender.want(
        !isPast && !nowDown && effects.deadBoard !== 'all' && effects.deadBoard !== sampler.id && !world.battery.dark,
      )
      while (sampler.nextAt < at + SECOND) {
        const pack = sampler.sample()
        const again = effects.repeatShare > 0 && random.chance(effects.repeatShare)
        if (pack === null) continue
        if (isPast)
          options.past?.take({ at: pack.at, topic: sender.topic, payload: payloadOf(pack, pack.at, 'synced') })
        else sender.offer(pack, again ? 1 + effects.repeatCopies : 1)
      }
    }
    down = nowDown
  }
  const clock = await livePast(options, world, second)
  // On the line before there is anything to say, so that a fast clock does not make a silence of the connecting.
  for (const { sender } of boards) sender.want(options.past !== undefined)
  await turns(signal, () => {
    const target = siteTime(clock, options.wallNow())
    for (let lived = 0; lived < SECONDS_A_TURN && world.now + SECOND <= target; lived++) second()
  })
  await Promise.all(boards.map(({ sender }) => sender.close()))
  const sum = (of: (sender: LiveBoard) => number) => boards.reduce((total, { sender }) => total + of(sender), 0)
  return {
    sent: sum((sender) => sender.sent),
    waiting: sum((sender) => sender.waiting),
    dropped: sum((sender) => sender.dropped),
    until: world.now,
  }
}

/** Lives what is past, if anything is, and answers the site's clock from then on. */
async function livePast(options: LiveOptions, world: World, second: () => void): Promise<LiveOptions> {
  const { past, startMs, speed } = options
  if (past === undefined) return options
  while (world.now < past.untilMs) second()
  return { ...options, wallStartMs: (await past.ready()) - (past.untilMs - startMs) / speed }
}

function turns(signal: AbortSignal, turn: () => void): Promise<void> {
  return new Promise((resolve) => {
    if (signal.aborted) return resolve()
    const timer = setInterval(turn, TURN_MS)
    signal.addEventListener('abort', () => {
      clearInterval(timer)
      resolve()
    })
  })
}
