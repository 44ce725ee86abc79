/**
 * A small picture of one signal over a day: what was lowest and highest in each column, joined, on a plain ground. As
 * PNG, which every mail program shows (SVG hardly any does). No words in it: the mail says them beside it.
 */
import { PNG } from 'pngjs'
import type { Ms } from '../../model/time.js'

export type Column = { readonly from: Ms; readonly to: Ms; readonly min: number; readonly max: number }

export type Drawing = {
  readonly columns: readonly Column[]
  readonly from: Ms
  readonly to: Ms
  /** Thin upright lines: midnights and noons. */
  readonly marks: readonly Ms[]
  /** A thick upright line: when what the mail is about began; null: not in the picture. */
  readonly began: Ms | null
}

export const PICTURE = { width: 560, height: 150 } as const

const PAPER = 255
const FRAME = 200
const MARK = 222
const BEGAN = 120
const INK = 20
/** Room above and below the line, pixels. */
const MARGIN = 8
const LINE = 2

class Sheet {
  readonly #pixels = new Uint8Array(PICTURE.width * PICTURE.height).fill(PAPER)

  box(x: number, y: number, width: number, height: number, grey: number): void {
    for (let row = Math.max(0, y); row < Math.min(PICTURE.height, y + height); row++) {
      const left = row * PICTURE.width
      this.#pixels.fill(grey, left + Math.max(0, x), left + Math.min(PICTURE.width, x + width))
    }
  }

  /** Eight bits of grey (PNG colour type 0): the smallest that a line needs. */
  png(): Buffer {
    const { width, height } = PICTURE
    const picture = new PNG({ width, height })
    picture.data = Buffer.from(this.#pixels)
    return PNG.sync.write(picture, {
      colorType: 0,
      inputColorType: 0,
      inputHasAlpha: false,
      bitDepth: 8,
      deflateLevel: 9,
    })
  }
}

/** @throws RangeError where there is nothing to draw */
export function drawPng({ columns, from, to, marks, began }: Drawing): Buffer {
  const low = Math.min(...columns.map(({ min }) => min))
  const high = Math.max(...columns.map(({ max }) => max))
  if (!Number.isFinite(low) || !Number.isFinite(high) || to <= from) {
    throw new RangeError(`a picture of ${columns.length} columns from ${low} to ${high}: expected finite figures`)
  }
  const sheet = new Sheet()
  const { width, height } = PICTURE
  const xOf = (at: Ms): number => Math.round(((at - from) / (to - from)) * (width - 1))
  // What does not move is drawn in the middle, and not as noise blown up to the whole height.
  const span = Math.max(high - low, Math.abs(high) * 0.01, 1e-6)
  const middle = (high + low) / 2
  const yOf = (value: number): number =>
    Math.round(height / 2 - ((value - middle) / span) * (height - 2 * MARGIN - LINE)) - 1

  for (const at of marks) sheet.box(xOf(at), 0, 1, height, MARK)
  if (began !== null) sheet.box(xOf(began) - 1, 0, 3, height, BEGAN)
  sheet.box(0, 0, width, 1, FRAME)
  sheet.box(0, height - 1, width, 1, FRAME)
  sheet.box(0, 0, 1, height, FRAME)
  sheet.box(width - 1, 0, 1, height, FRAME)

  let before: Column | null = null
  for (const column of columns) {
    const joined: boolean = before !== null && column.from <= before.to
    // A column begins where the one before ended, so that the line has no steps in the air.
    const top = yOf(joined && before !== null ? Math.max(column.max, before.min) : column.max)
    const bottom = yOf(joined && before !== null ? Math.min(column.min, before.max) : column.min)
    const left = xOf(column.from)
    sheet.box(left, top, Math.max(LINE, xOf(column.to) - left), bottom - top + LINE, INK)
    before = column
  }
  return sheet.png()
}
