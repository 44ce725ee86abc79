import type { Socket } from 'node:net'
import { Duplex } from 'node:stream'
import { LIMITS } from '../model/limits.js'

/**
 * Follows MQTT control packets by their fixed headers alone (MQTT 3.1.1, section 2.2: one byte of type and flags,
 * then a remaining length of one to four bytes, seven bits each, the lowest first), so that an oversize packet is
 * known by its first bytes, before anything gathers it in memory.
 */
export class FrameGuard {
  #limit: number
  #skip = 0
  #inLength = false
  #length = 0
  #factor = 1

  constructor(limit: number) {
    this.#limit = limit
  }

  /** Another limit for the packets that begin from here on. */
  limit(bytes: number): void {
    this.#limit = bytes
  }

  /** Takes the next bytes of the stream. False when a packet in them is too large or its length is not valid. */
  take(chunk: Uint8Array): boolean {
    const end = chunk.length
    let at = 0
    while (at < end) {
      if (this.#skip > 0) {
        const step = Math.min(this.#skip, end - at)
        this.#skip -= step
        at += step
        continue
      }
      const byte = chunk[at++] ?? 0
      if (!this.#inLength) {
        this.#inLength = true
        this.#length = 0
        this.#factor = 1
        continue
      }
      this.#length += (byte & 127) * this.#factor
      if (this.#length > this.#limit) return false
      if ((byte & 128) !== 0) {
        // A fifth byte of length does not exist.
        if (this.#factor === 128 ** 3) return false
        this.#factor *= 128
        continue
      }
      this.#inLength = false
      this.#skip = this.#length
    }
    return true
  }
}

export class FrameTooLarge extends Error {
  constructor() {
    super('an MQTT packet larger than the limit')
    this.name = 'FrameTooLarge'
  }
}

/** A socket seen through a frame guard: what the broker gets to read has passed it. */
export class GuardedSocket extends Duplex {
  readonly remote: string
  readonly #socket: Socket
  readonly #guard: FrameGuard

  constructor(socket: Socket) {
    super({ allowHalfOpen: false })
    this.remote = socket.remoteAddress ?? ''
    this.#socket = socket
    this.#guard = new FrameGuard(LIMITS.firstFrameBytesMax)
    socket.on('data', (chunk) => {
      if (!this.#guard.take(chunk)) this.destroy(new FrameTooLarge())
      else if (!this.push(chunk)) socket.pause()
    })
    let ended = false
    socket.on('end', () => {
      ended = true
      this.push(null)
    })
    socket.on('error', (error) => this.destroy(error))
    // After an orderly end what was sent last may still be here, unread: this ends by itself when it has been read.
    socket.on('close', () => {
      if (!ended) this.destroy()
    })
  }

  /** Whoever is at the other end has said who it is: full-size packets from here on. */
  widen(): void {
    this.#guard.limit(LIMITS.frameBytesMax)
  }

  override _read(): void {
    this.#socket.resume()
  }

  override _write(chunk: Uint8Array, _encoding: string, done: (error?: Error | null) => void): void {
    this.#socket.write(chunk, done)
  }

  override _writev(chunks: readonly { readonly chunk: Uint8Array }[], done: (error?: Error | null) => void): void {
    this.#socket.write(Buffer.concat(chunks.map((each) => each.chunk)), done)
  }

  override _final(done: (error?: Error | null) => void): void {
    this.#socket.end(() => done())
  }

  override _destroy(error: Error | null, done: (error: Error | null) => void): void {
    this.#socket.destroy()
    done(error)
  }
}
