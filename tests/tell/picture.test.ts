/** Pictures of mails, read back with a decoder that is not ours (pngjs), and sent through a real SMTP server. */
import { PNG } from 'pngjs'
import { describe, expect, it, onTestFinished } from 'vitest'
import { ALARM_IDS } from '../../src/model/alarm.js'
import { LIMITS } from '../../src/model/limits.js'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { signalBehind } from '../../src/tell/picture/behind.js'
import { drawPng, PICTURE } from '../../src/tell/picture/draw.js'
import { type ChartColumn, createPictures } from '../../src/tell/picture/picture.js'
import { toHtml } from '../../src/tell/sections.js'
import { createEmailWay } from '../../src/tell/ways/email.js'
import { siteOf } from '../daemon/support.js'
import { mailSink } from '../support/mail-sink.js'
import { AFTERNOON, MAIL, message } from './support.js'

const FROM = AFTERNOON - 24 * HOUR
const STEP = (24 * HOUR) / 280

function columns(value: (share: number) => number, missing: (share: number) => boolean = () => false): ChartColumn[] {
  return Array.from({ length: 280 }, (_, i) => i / 280)
    .filter((share) => !missing(share))
    .map((share) => {
      const from = FROM + share * 24 * HOUR
      const mean = value(share)
      return { from, to: from + STEP, min: mean, max: mean, mean }
    })
}

/** Rows of a column of pixels that are drawn with ink, from the top. */
function ink(png: Buffer, share: number): number[] {
  const { data, width, height } = PNG.sync.read(png)
  const x = Math.round(share * (width - 1))
  return Array.from({ length: height }, (_, y) => y).filter((y) => (data[(y * width + x) * 4] ?? 255) < 60)
}

const bare = { from: FROM, to: AFTERNOON, marks: [], began: null }

describe('the picture of a mail', () => {
  it('is a PNG of its size, higher where the figure is higher, and small', () => {
    const png = drawPng({ ...bare, columns: columns((share) => share) })
    const { width, height } = PNG.sync.read(png)
    expect({ width, height }).toEqual(PICTURE)
    const [early] = ink(png, 0.1)
    const [late] = ink(png, 0.9)
    expect((early ?? 0) - (late ?? 0)).toBeGreaterThan(80)
    expect(png.length).toBeLessThan(4_000)
  })

  it('has a gap where nothing was heard, and both extremes of a column', () => {
    const gap = drawPng({
      ...bare,
      columns: columns(
        () => 1,
        (share) => share > 0.4 && share < 0.6,
      ),
    })
    expect(ink(gap, 0.5)).toEqual([])
    expect(ink(gap, 0.2).length).toBeGreaterThan(0)
    const peak = columns(() => 0.5).map((one, i) => (i === 100 ? { ...one, min: 0, max: 1 } : one))
    const rows = ink(drawPng({ ...bare, columns: peak }), 100.5 / 280)
    expect(rows.length).toBeGreaterThan(PICTURE.height * 0.8)
  })

  it('draws what does not move in the middle, and stays within its frame for any figures', () => {
    const [row] = ink(drawPng({ ...bare, columns: columns(() => 26.4) }), 0.5)
    expect(Math.abs((row ?? 0) - PICTURE.height / 2)).toBeLessThan(6)
    for (const scale of [1e-9, 1, 1e9]) {
      const rows = ink(drawPng({ ...bare, columns: columns((share) => Math.sin(40 * share) * scale) }), 0.3)
      expect(rows.length).toBeGreaterThan(0)
    }
    expect(() => drawPng({ ...bare, columns: [] })).toThrow(RangeError)
  })

  it('marks noon, midnight and when the thing began', () => {
    const marked = drawPng({ ...bare, columns: columns(() => 1), marks: [FROM + 6 * HOUR], began: FROM + 18 * HOUR })
    const { data, width } = PNG.sync.read(marked)
    const at = (share: number) => data[(20 * width + Math.round(share * (width - 1))) * 4] ?? 0
    expect(at(0.25)).toBeLessThan(255)
    expect(at(0.75)).toBeLessThan(at(0.25))
    expect(at(0.5)).toBe(255)
  })
})

describe('the pictures of a site', () => {
  const juniper = siteOf('juniper')
  const pictures = (chart: readonly ChartColumn[]) =>
    createPictures({ sites: [juniper], chart: () => chart, now: () => AFTERNOON })

  it('show the signal behind each alarm, as far as the place measures it', () => {
    const found = Object.fromEntries(ALARM_IDS.map((id) => [id, signalBehind(juniper, `${id}:x`)?.key ?? null]))
    expect(found).toMatchObject({
      'dry-well': 'pump-current',
      'tank-low': 'tank-level',
      'battery-low': 'battery-voltage',
      'freeze-risk': 'line-temperature',
      'house-pump-cycling': 'house-pressure',
      'site-silent': null,
      'telling-failing': null,
    })
    expect(signalBehind({ ...juniper, boards: [] }, 'tank-low:tank')).toBeNull()
    expect(signalBehind(juniper, 'constructor:x')).toBeNull()
  })

  it('say in words what they show, in the units of the place', () => {
    const picture = pictures(columns((share) => 0.9 + 0.1 * share))(
      message({ at: AFTERNOON - 30 * MINUTE, about: 'tank-low:tank' }),
    )
    expect(picture?.words).toMatch(
      /^Water level in the tank, the 24 h up to \d\d:05: lowest 35\.4 in, highest 39\.4 in, last 39\.4 in\. Thin upright lines: midnight and noon; the thick one: when this began\.$/u,
    )
    expect(picture?.png.length).toBeLessThan(LIMITS.mailPictureBytesMax)
  })

  it('are left out of what is no alarm, where nothing is stored, and where they would be large', () => {
    const wild = columns(() => 1).map((one, i) => ({ ...one, min: -((i * 7919) % 97), max: (i * 104_729) % 89 }))
    expect(pictures(wild)(message())?.png.length ?? 0).toBeLessThan(LIMITS.mailPictureBytesMax)
    expect(pictures([])(message())).toBeNull()
    expect(pictures(columns(() => 1))(message({ kind: 'digest' }))).toBeNull()
    expect(pictures(columns(() => 1))(message({ site: 'elsewhere' }))).toBeNull()
  })
})

describe('a mail with a picture', () => {
  const html = toHtml({
    title: 'Water is low',
    sections: [{ heading: null, form: 'prose', lines: ['58 gal are left.'] }],
    link: { words: 'Acknowledge', address: 'https://juniper.example/ack/x' },
  })
  const picture = {
    png: drawPng({ ...bare, columns: columns((share) => share) }),
    words: 'Water "level" <in> the tank',
  }

  async function sent(changes: object, pictures: () => typeof picture | null) {
    const sink = await mailSink()
    onTestFinished(() => sink.close())
    const settings = { ...MAIL, port: sink.port, ...changes } as typeof MAIL & { kind: 'email' }
    const way = createEmailWay(settings, () => AFTERNOON, pictures)
    expect(await way.send(message({ html }), new AbortController().signal)).toEqual({ ok: true })
    return sink.mails[0] ?? ''
  }

  it('carries it within, before the link, with words for those who do not see it', async () => {
    const mail = await sent({}, () => picture)
    // RFC 2387: text and picture are one related whole; RFC 2392: the picture is named by its Content-Id.
    expect(mail).toMatch(/Content-Type: multipart\/related/i)
    const [, id] = /^Content-I[dD]: <([^>]+)>/m.exec(mail) ?? []
    expect(mail).toMatch(/Content-Disposition: inline; filename=last-24-hours\.png/)
    const plain = mail.replace(/=\r\n/g, '').replace(/=3D/g, '=')
    expect(plain).toContain(`src="cid:${id}"`)
    expect(plain).toContain('alt="Water &quot;level&quot; &lt;in&gt; the tank"')
    expect(plain.indexOf('cid:')).toBeLessThan(plain.indexOf('https://juniper.example/ack/x'))
    const [, body = ''] = /image\/png[\s\S]*?\r\n\r\n([A-Za-z0-9+/=\r\n]+?)\r\n--/.exec(mail) ?? []
    expect(Buffer.from(body, 'base64').equals(picture.png)).toBe(true)
    expect(mail.length).toBeLessThan(2 * LIMITS.mailPictureBytesMax)
  })

  it('goes without one where a picture fails, where there is none, and to a text-message gateway', async () => {
    const broken = () => {
      throw new Error('the store is closed')
    }
    for (const mail of [
      await sent({}, broken),
      await sent({}, () => null),
      await sent({ short: true }, () => picture),
    ]) {
      expect(mail).not.toContain('image/png')
      expect(mail).not.toContain('cid:')
    }
  })
})
