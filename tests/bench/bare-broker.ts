/**
 * The embedded broker library alone, as the yardstick: every message is allowed at once, nothing is decoded, kept or
 * inferred. `node --import tsx tests/bench/bare-broker.ts PORT`; ends when its parent closes standard input.
 */
import { createServer } from 'node:net'
import { Aedes } from 'aedes'

const broker = await Aedes.createBroker({ authorizePublish: (_client, _packet, done) => done(null) })
const server = createServer(broker.handle)
server.listen(Number(process.argv[2]), '127.0.0.1', () => process.stdout.write('ready\n'))
process.stdin.on('end', () => process.exit(0)).resume()
