#!/usr/bin/env node
/** The program: words in, exit code out. `main` is a function of its words and surroundings; the last lines call it. */
import { readFileSync, realpathSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { Command, CommanderError, InvalidArgumentError, Option } from 'commander'
import { errorLine, type Surroundings, WrongWords } from './commands/words.js'
import { systemClock } from './runtime/clock.js'
import { LOG_LEVELS } from './runtime/log.js'

const DONE = 0
const FAILED = 1
const WRONG = 2

/** Runs one verb. 0: done; 1: failed while working; 2: the words or the configuration are wrong. */
export async function main(words: readonly string[], world: Surroundings): Promise<number> {
  let code = DONE
  const program = createProgram(world, (result) => {
    code = result
  })
  try {
    await program.parseAsync([...words], { from: 'user' })
    return code
  } catch (error) {
    if (error instanceof CommanderError) return error.exitCode === 0 ? DONE : WRONG
    world.err(`${errorLine(error)}\n`)
    return error instanceof WrongWords ? WRONG : FAILED
  }
}

const config = '--config <file>'
const configAbout = 'configuration: a file (one site) or a folder (many)'

function createProgram(world: Surroundings, done: (code: number) => void): Command {
  const program = new Command('sightglass')
  program
    .description('Watches a well pump, a water tank and the battery behind them at a place far from the grid.')
    .version(world.version)
    .exitOverride()
    .configureOutput({ writeOut: world.out, writeErr: world.err })
  const verb = (words: string, about: string): Command =>
    program
      .command(words)
      .description(about)
      .exitOverride()
      .configureOutput({ writeOut: world.out, writeErr: world.err })
  const level = (): Option =>
    new Option('--log-level <level>', 'least level of the log on standard error').choices(LOG_LEVELS).default('info')
  const quiet = (): Option => level().default('warn')

  verb('run', 'the daemon')
    .requiredOption(config, configAbout)
    .option('--capture <file>', 'append every received message to a capture')
    .addOption(level())
    .action(async (o) => done(await (await import('./commands/run.js')).run(o, world)))
  verb('demo', 'an invented site with simulated boards, on loopback')
    .option('--speed <times>', 'faster than life', number(0.1, 5000), 600)
    .option('--seed <number>', 'one seed drives the site', number(0, 1e9), 1)
    .option('--past <days>', 'days that the site has lived before', number(0.1, 60), 10.25)
    .option('--fault <words>', 'a fault so long after the start, as dry-well:middle@2h; may be repeated', gather, [])
    .option('--port <port>', "the page's port, if it is free", number(1, 65535), 8180)
    .option('--keep <folder>', 'keep the store there')
    .addOption(quiet())
    .action(async (o) => done(await (await import('./commands/demo.js')).demo(o, world)))
  verb('check', 'validate a configuration: every error, every warning')
    .requiredOption(config, configAbout)
    .action(async (o) => done((await import('./commands/check.js')).check(o, world)))
  verb('replay', 'run captures through the same code on their own clock; write cycles, days, alarms, messages')
    .requiredOption(config, configAbout)
    .requiredOption('--in <files...>', 'captures, .gz too')
    .requiredOption('--out <folder>', 'where the files go')
    .option('--json', 'print the summary as JSON')
    .addOption(quiet())
    .action(async (o) => done(await (await import('./commands/replay.js')).replay(o, world)))
  verb('import', 'add captures, or CSV of time,name,value,unit, to the store')
    .requiredOption(config, configAbout)
    .requiredOption('--in <files...>', 'captures (.gz too) or .csv')
    .option('--site <id>', 'the site that CSV belongs to')
    .addOption(quiet())
    .action(async (o) => done((await import('./commands/import.js')).importFiles(o, world)))
  verb('recompute', 'derive cycles and days again from stored samples')
    .requiredOption(config, configAbout)
    .option('--from <time>', 'from here on')
    .option('--to <time>', 'what follows is derived again, too, since it rests on it')
    .addOption(quiet())
    .action(async (o) => done((await import('./commands/recompute.js')).recompute(o, world)))
  verb('backtest', 'what the alarms would have said over stored history under another configuration')
    .requiredOption(config, configAbout)
    .requiredOption('--with <file>', 'the other configuration')
    .option('--from <time>', 'alarms raised from here on')
    .option('--to <time>', 'up to here')
    .option('--json', 'print the comparison as JSON')
    .action(async (o) => done(await (await import('./commands/backtest.js')).backtestVerb(o, world)))
  addAsking(verb, world, done)
  addUpkeep(verb, world, done)
  return program
}

type AddVerb = (words: string, about: string) => Command

/** Verbs that read the store and answer. */
function addAsking(verb: AddVerb, world: Surroundings, done: (code: number) => void): void {
  verb('export', 'a table of the store on standard output')
    .requiredOption(config, configAbout)
    .addOption(
      new Option('--what <table>', 'which')
        .choices(['samples', 'cycles', 'days', 'alarms', 'journal'])
        .makeOptionMandatory(),
    )
    .option('--site <id>', 'which site, where there are several')
    .option('--from <time>', 'from here on')
    .option('--to <time>', 'up to here')
    .addOption(new Option('--format <format>', 'RFC 4180 CSV or JSON lines').choices(['csv', 'json']).default('csv'))
    .action(async (o) => done((await import('./commands/export.js')).exportTable(o, world)))
  verb('size', "how much panel and battery, from the site's own days")
    .requiredOption(config, configAbout)
    .option('--site <id>', 'which site, where there are several')
    .option('--need <quantity>', 'water needed a day, with its unit, as "80 gal"')
    .option('--short-days <days>', 'days a year on which it may fall short', number(0, 60), 1)
    .option('--json', 'as JSON')
    .action(async (o) => done((await import('./commands/size.js')).sizeVerb(o, world)))
  verb('report', 'the month on one page: water, energy, battery, weather, alarms, upkeep')
    .requiredOption(config, configAbout)
    .option('--site <id>', 'which site, where there are several')
    .option('--month <month>', 'YYYY-MM; left out: the last that is over')
    .addOption(new Option('--format <format>', 'for a browser or a terminal').choices(['html', 'text']).default('text'))
    .action(async (o) => done((await import('./commands/report.js')).reportVerb(o, world)))
}

/** Verbs for whoever runs the daemon. */
function addUpkeep(verb: AddVerb, world: Surroundings, done: (code: number) => void): void {
  verb('account', 'accounts of people and boards, tokens of scripts')
    .argument('<act>', 'add, remove, list, token (make one) or revoke (a token)')
    .argument('[name]', 'name of the account or token')
    .requiredOption(config, configAbout)
    .option('--role <role>', 'owner, viewer or board; of a token owner or viewer (viewer)')
    .option('--site <id>', 'good for this site only')
    .option('--until <time>', 'a token is good before this time')
    .action(async (act, name, o) => done(await (await import('./commands/account.js')).account(act, name, o, world)))
  verb('tell-test', 'send a marked test message through every way of telling')
    .requiredOption(config, configAbout)
    .action(async (o) => done(await (await import('./commands/tell-test.js')).tellTestVerb(o, world)))
  verb('backup', 'a consistent copy of the store, also while the daemon runs')
    .requiredOption(config, configAbout)
    .requiredOption('--out <file>', 'where the copy goes')
    .action(async (o) => done(await (await import('./commands/backup.js')).backup(o, world)))
}

function number(low: number, high: number): (text: string) => number {
  return (text) => {
    const value = Number(text)
    if (text.trim() === '' || !Number.isFinite(value) || value < low || value > high) {
      throw new InvalidArgumentError(`expected a number from ${low} to ${high}.`)
    }
    return value
  }
}

function gather(word: string, before: readonly string[]): readonly string[] {
  return [...before, word]
}

function surroundings(stop: AbortSignal): Surroundings {
  const home = fileURLToPath(new URL('.', import.meta.url))
  const { version } = JSON.parse(readFileSync(new URL('../package.json', import.meta.url), 'utf8')) as {
    version: string
  }
  return {
    out: (text) => process.stdout.write(text),
    err: (text) => process.stderr.write(text),
    clock: systemClock,
    stop,
    readSecret: () => (process.stdin.isTTY ? '' : readFileSync(0, 'utf8').trim()),
    terminal: process.stderr.isTTY === true,
    version,
    home,
  }
}

if (process.argv[1] !== undefined && realpathSync(process.argv[1]) === fileURLToPath(import.meta.url)) {
  const stop = new AbortController()
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, () => stop.abort())
  // A reader that has seen enough (`| head`) is no failure.
  process.stdout.on('error', (error: NodeJS.ErrnoException) => process.exit(error.code === 'EPIPE' ? DONE : FAILED))
  process.exitCode = await main(process.argv.slice(2), surroundings(stop.signal))
}
