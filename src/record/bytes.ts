/** Growing bytes with the two number forms that blocks use. */
export class ByteWriter {
  #bytes = new Uint8Array(1024)
  #n = 0

  #room(more: number): void {
    if (this.#n + more <= this.#bytes.length) return
    const next = new Uint8Array(Math.max(this.#bytes.length * 2, this.#n + more))
    next.set(this.#bytes)
    this.#bytes = next
  }

  byte(value: number): void {
    this.#room(1)
    this.#bytes[this.#n++] = value
  }

  /** Unsigned, below 2^32: seven bits a byte, the lowest first. */
  unsigned(value: number): void {
    this.#room(5)
    let rest = value >>> 0
    while (rest >= 128) {
      this.#bytes[this.#n++] = (rest & 127) | 128
      rest >>>= 7
    }
    this.#bytes[this.#n++] = rest
  }

  /** Signed 32 bits, small magnitudes short: 0, -1, 1, -2 … become 0, 1, 2, 3 … */
  signed(value: number): void {
    this.unsigned((value << 1) ^ (value >> 31))
  }

  raw(bytes: Uint8Array): void {
    this.#room(bytes.length)
    this.#bytes.set(bytes, this.#n)
    this.#n += bytes.length
  }

  done(): Uint8Array {
    return this.#bytes.subarray(0, this.#n)
  }
}

/** Reads what ByteWriter wrote. Past the end it throws a RangeError. */
export class ByteReader {
  readonly #bytes: Uint8Array
  #at = 0

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes
  }

  byte(): number {
    const value = this.#bytes[this.#at++]
    if (value === undefined) throw new RangeError('block ends too early')
    return value
  }

  unsigned(): number {
    let value = 0
    for (let shift = 0; shift < 35; shift += 7) {
      const byte = this.byte()
      value |= (byte & 127) << shift
      if (byte < 128) return value >>> 0
    }
    throw new RangeError('block holds a number that is too long')
  }

  signed(): number {
    const value = this.unsigned()
    return (value >>> 1) ^ -(value & 1)
  }

  raw(length: number): Uint8Array {
    if (this.#at + length > this.#bytes.length) throw new RangeError('block ends too early')
    this.#at += length
    return this.#bytes.subarray(this.#at - length, this.#at)
  }
}
