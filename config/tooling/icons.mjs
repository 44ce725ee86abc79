// Draws src/show/page/icon-192.png and icon-512.png: the mark of mark.svg on paper, small enough for a round mask.
// `node config/tooling/icons.mjs`
import { writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { crc32, deflateSync } from 'node:zlib'

const PAPER = [0xf7, 0xf4, 0xec]
const WATER = [0x2d, 0x6e, 0x8e]
const LINE = [0x37, 0x47, 0x4f]
/** Rectangles in a drawing of 100 by 100, later ones on top: [x, y, width, height, colour]. */
const SHAPES = [
  [32, 50, 34, 26, WATER],
  [29, 26, 4, 52, LINE],
  [65, 26, 4, 52, LINE],
  [22, 76, 56, 4, LINE],
  [69, 38, 9, 4, LINE],
  [69, 54, 9, 4, LINE],
]
/** Each pixel is the mean of so many by so many points, which rounds off the steps. */
const FINE = 4

function colourAt(x, y) {
  let colour = PAPER
  for (const [left, top, width, height, of] of SHAPES) {
    if (x >= left && x < left + width && y >= top && y < top + height) colour = of
  }
  return colour
}

function pixel(size, column, row) {
  const sum = [0, 0, 0]
  for (let i = 0; i < FINE; i += 1) {
    for (let j = 0; j < FINE; j += 1) {
      const colour = colourAt(((column + (i + 0.5) / FINE) * 100) / size, ((row + (j + 0.5) / FINE) * 100) / size)
      for (const [at, part] of colour.entries()) sum[at] += part / FINE ** 2
    }
  }
  return sum.map(Math.round)
}

/** A chunk of a PNG file (W3C PNG, 5.3): length, type, data, CRC of type and data. */
function chunk(type, data) {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data])
  const length = Buffer.alloc(4)
  length.writeUInt32BE(data.length)
  const check = Buffer.alloc(4)
  check.writeUInt32BE(crc32(body))
  return Buffer.concat([length, body, check])
}

function png(size) {
  const head = Buffer.alloc(13)
  head.writeUInt32BE(size, 0)
  head.writeUInt32BE(size, 4)
  head.set([8, 2, 0, 0, 0], 8)
  const rows = Buffer.alloc(size * (1 + 3 * size))
  for (let row = 0; row < size; row += 1) {
    for (let column = 0; column < size; column += 1) {
      rows.set(pixel(size, column, row), row * (1 + 3 * size) + 1 + 3 * column)
    }
  }
  const signature = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a])
  return Buffer.concat([
    signature,
    chunk('IHDR', head),
    chunk('IDAT', deflateSync(rows, { level: 9 })),
    chunk('IEND', Buffer.alloc(0)),
  ])
}

for (const size of [192, 512]) {
  writeFileSync(fileURLToPath(new URL(`../../src/show/page/icon-${size}.png`, import.meta.url)), png(size))
}
