/**
 * MQTT 3.1.1 packets for the load generator, written as bytes ahead of time (OASIS MQTT 3.1.1, sections 2.2, 3.1, 3.3):
 * a PUBLISH is copied from a template and only its packet identifier, time and values are written anew, so that the
 * generator costs far less than whatever takes the messages.
 */

function text(words: string): Buffer {
  const bytes = Buffer.from(words, 'utf8')
  const length = Buffer.alloc(2)
  length.writeUInt16BE(bytes.length)
  return Buffer.concat([length, bytes])
}

function frame(head: number, body: Buffer): Buffer {
  const length: number[] = []
  let rest = body.length
  do {
    length.push((rest & 127) | (rest > 127 ? 128 : 0))
    rest >>>= 7
  } while (rest > 0)
  return Buffer.concat([Buffer.from([head, ...length]), body])
}

/** CONNECT of a clean session without a name, keepalive 60 s. */
export function connectPacket(clientId: string): Buffer {
  return frame(0x10, Buffer.concat([text('MQTT'), Buffer.from([4, 2, 0, 60]), text(clientId)]))
}

const PUBLISH_QOS_1 = 0x32

/** What a board says at one moment. `levelMm` and the two others fit their fixed widths: 4, 3 and 4 digits. */
export type Values = { readonly levelMm: number; readonly currentCa: number; readonly voltageCv: number }

export type Template = {
  readonly bytes: number
  /** Writes one whole packet into `into` at `at`. */
  write(into: Buffer, at: number, packetId: number, timeMs: number, values: Values): void
}

/** A pack of three records, as RFC 8428 has it, with a time of its own; every number at a fixed place and width. */
export function publishTemplate(topic: string, board: string): Template {
  const payload =
    `[{"bn":"${board}:","bt":1111111111.111,"n":"tank-level","u":"m","v":2.222},` +
    `{"n":"pump-current","u":"A","v":3.33},{"n":"battery-voltage","u":"V","v":44.44}]`
  const packet = frame(PUBLISH_QOS_1, Buffer.concat([text(topic), Buffer.from([0, 0]), Buffer.from(payload)]))
  const idAt = packet.length - payload.length - 2
  const secondsAt = packet.indexOf('1111111111.')
  const millisAt = secondsAt + 11
  const levelAt = packet.indexOf('2.222')
  const currentAt = packet.indexOf('3.33')
  const voltageAt = packet.indexOf('44.44')
  return {
    bytes: packet.length,
    write(into, at, packetId, timeMs, { levelMm, currentCa, voltageCv }) {
      packet.copy(into, at)
      into[at + idAt] = packetId >> 8
      into[at + idAt + 1] = packetId & 255
      const seconds = Math.floor(timeMs / 1000)
      digits(into, at + secondsAt, seconds, 10)
      digits(into, at + millisAt, timeMs - seconds * 1000, 3)
      digits(into, at + levelAt, Math.floor(levelMm / 1000), 1)
      digits(into, at + levelAt + 2, levelMm % 1000, 3)
      digits(into, at + currentAt, Math.floor(currentCa / 100), 1)
      digits(into, at + currentAt + 2, currentCa % 100, 2)
      digits(into, at + voltageAt, Math.floor(voltageCv / 100), 2)
      digits(into, at + voltageAt + 3, voltageCv % 100, 2)
    },
  }
}

function digits(into: Buffer, at: number, value: number, width: number): void {
  let rest = value
  for (let i = at + width - 1; i >= at; i--) {
    const next = Math.floor(rest / 10)
    into[i] = 48 + rest - next * 10
    rest = next
  }
}
