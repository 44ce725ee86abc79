/** The documents say what the code does: verbs, roles, refusals, alarms, routes, limits, examples, links. */
import { existsSync, writeFileSync } from 'node:fs'
import { dirname, join, posix } from 'node:path'
import { describe, expect, it } from 'vitest'
import { formatFinding, loadConfig } from '../src/config/index.js'
import { createDecoder } from '../src/decode/decoder.js'
import { createPlan } from '../src/infer/plan.js'
import { ALARM_DEFINITIONS } from '../src/judge/alarms/index.js'
import { ALARM_IDS } from '../src/model/alarm.js'
import { LIMITS } from '../src/model/limits.js'
import { ROLE_IDS, ROLES } from '../src/model/roles.js'
import { REFUSALS } from '../src/model/sample.js'
import type { Chemistry, SiteSettings } from '../src/model/settings.js'
import { DAY, MINUTE } from '../src/model/time.js'
import { folder, verb } from './commands/support.js'
import { createFakeApp } from './show/fake-app.js'
import { filesIn, ROOT, readText, type SourceFile } from './support/source-tree.js'

const TOP = ['README.md', 'DEVELOPERS.md', 'CHANGELOG.md'].map((path): SourceFile => ({ path, text: readText(path) }))
const DOCS: readonly SourceFile[] = [...TOP, ...filesIn(['docs'], ['.md'])]

/** Cells of each row of every table in a text. */
function rows(text: string): readonly (readonly string[])[] {
  return text
    .split('\n')
    .filter((line) => line.startsWith('| '))
    .map((line) => line.split(/(?<!\\)\|/).map((cell) => cell.trim()))
    .map((cells) => cells.slice(1, -1))
}

const codes = (cell: string): readonly string[] => [...cell.matchAll(/`([^`]+)`/g)].map(([, code = '']) => code)
const section = (text: string, heading: string): string => text.split(`\n${heading}\n`)[1]?.split('\n## ')[0] ?? ''
/** Bodies of the fenced blocks of a language; '' for those without. */
function fenced(text: string, language: string): readonly string[] {
  const parts = text.split(/^```(.*)\n/m)
  const bodies: string[] = []
  // Text, language, body, '' (of the closing fence), text, …
  for (let i = 1; i + 1 < parts.length; i += 4) {
    if (parts[i] === language) bodies.push((parts[i + 1] ?? '').replace(/\n$/, ''))
  }
  return bodies
}

function juniper(): SiteSettings {
  const loaded = loadConfig(join(ROOT, 'config', 'juniper.yaml'))
  const [site] = loaded.ok ? loaded.settings.sites : []
  if (site === undefined) throw new Error('config/juniper.yaml does not load')
  return site
}

describe('links', () => {
  it('lead to files and headings that are there', () => {
    const anchors = (text: string): readonly string[] =>
      [...text.matchAll(/^#+ (.*)$/gm)].map(([, words = '']) =>
        words
          .toLowerCase()
          .replaceAll(/[^\p{L}\p{N} _-]/gu, '')
          .replaceAll(' ', '-'),
      )
    const lost = DOCS.flatMap(({ path, text }) =>
      [...text.matchAll(/(?:\]\(|src=")([^)"\s]+)[)"]/g)].flatMap(([, target = '']) => {
        if (/^https?:/.test(target)) return []
        const [file = '', anchor] = target.split('#')
        const there = file === '' ? path : posix.join(dirname(path), file)
        if (!existsSync(join(ROOT, there))) return [`${path}: ${target}`]
        return anchor === undefined || anchors(readText(there)).includes(anchor) ? [] : [`${path}: ${target}`]
      }),
    )
    expect(lost).toEqual([])
  })

  it('paths named in the text are there', () => {
    const named = /`((?:src|tests|config|docs|simulators|\.ci)\/[\w./-]*\w)`/g
    const lost = DOCS.flatMap(({ path, text }) =>
      [...text.matchAll(named)].flatMap(([, target = '']) =>
        /[A-Z]{2}/.test(target) || existsSync(join(ROOT, target)) ? [] : [`${path}: ${target}`],
      ),
    )
    expect(lost).toEqual([])
  })
})

describe('verbs and scripts', () => {
  it('every verb has a row in README.md, and every verb that is named there or in docs exists', async () => {
    const { out } = await verb(['--help'])
    const verbs = [...(out.split('Commands:')[1] ?? '').matchAll(/^ {2}([a-z][a-z-]*) /gm)].map(([, name = '']) => name)
    const real = verbs.filter((name) => name !== 'help')
    expect(real).toContain('run')
    const listed = rows(section(readText('README.md'), '## What it does')).flatMap(([cell = '']) => codes(cell))
    expect([...listed].sort()).toEqual([...real].sort())
    const used = /(?:npm start -- |dist\/main\.js |`sightglass |^sightglass )([a-z][a-z-]*)/gm
    const unknown = DOCS.flatMap(({ path, text }) =>
      [...text.matchAll(used)].flatMap(([, name = '']) => (real.includes(name) ? [] : [`${path}: ${name}`])),
    )
    expect(unknown).toEqual([])
  })

  it('every npm script that is named exists', () => {
    const { scripts } = JSON.parse(readText('package.json')) as { scripts: Record<string, string> }
    const named = DOCS.flatMap(({ text }) => [...text.matchAll(/npm run ([a-z][a-z-]*)/g)].map(([, name = '']) => name))
    expect(named.length).toBeGreaterThan(3)
    expect(named.filter((name) => !(name in scripts))).toEqual([])
  })
})

describe('docs/messages.md', () => {
  const text = readText('docs/messages.md')

  it('has a row for every refusal and no other', () => {
    const table = rows(section(text, '## What is refused'))
    expect(table.flatMap(([cell = '']) => codes(cell))).toEqual([...REFUSALS])
  })

  it('has every role with its unit, its limits and what it sends when it has failed', () => {
    const listed = new Map(
      rows(section(text, '## SenML packs')).flatMap((cells) => codes(cells[0] ?? '').map((role) => [role, cells])),
    )
    expect([...listed.keys()].sort()).toEqual([...ROLE_IDS].sort())
    for (const role of ROLE_IDS) {
      const { kind, unit, low, high, sentinels } = ROLES[role]
      const [, unitCell = '', range = '', failed = ''] = listed.get(role) ?? []
      const plain = range.replaceAll('−', '-')
      if (kind === 'contact') expect([role, plain, failed]).toEqual([role, '', ''])
      else {
        expect([role, plain]).toEqual([role, `${low} … ${high}`])
        expect([role, unitCell.split(/[ ,]/)[0]]).toEqual([role, unit])
        expect([role, failed.replaceAll('−', '-')]).toEqual([role, sentinels.join(', ')])
      }
    }
  })

  it('gives the limits of the program', () => {
    const plain = text.replaceAll('\n', ' ')
    expect(text).toContain(`more than ${LIMITS.payloadBytesMax / 1024} KiB`)
    expect(text).toContain(`the ${LIMITS.recordsMax.toLocaleString('en-US')}th of a pack`)
    expect(text).toContain(`a time more than ${LIMITS.aheadMaxMs / MINUTE} min ahead`)
    expect(text).toContain(`a time more than ${LIMITS.ageMaxMs / DAY} d back`)
    expect(plain).toContain(`the last ${LIMITS.keptAsideMax} of a site`)
  })

  it('has examples of packs, as README.md has, that are taken without a refusal', () => {
    const site = juniper()
    const [board] = site.boards
    const probe = board?.signals.find((signal) => signal.key === 'tank-level')
    if (board === undefined || probe === undefined) throw new Error('juniper has no tank-level')
    const low = { ...probe, key: 'tank-probe-low', role: 'tank-probe-low', name: 'tank-probe-low' } as const
    const decoder = createDecoder([{ ...site, boards: [{ ...board, signals: [...board.signals, low] }] }])
    const byHand = /-m '(\[.*\])'/.exec(readText('README.md'))?.[1] ?? ''
    const packs = [...fenced(text, 'json'), byHand]
    expect(packs.length).toBe(3)
    for (const pack of packs) {
      const payload = new TextEncoder().encode(pack)
      const [decoded] = decoder.decode({ at: 1_777_990_760_000, topic: board.topic, payload, retain: false })
      expect([decoded?.refusals, decoded?.samples.length]).toEqual([[], (JSON.parse(pack) as unknown[]).length])
    }
  })

  it('has an example of mapped signals that the configuration takes', () => {
    const [boards = ''] = fenced(text, 'yaml')
    const file = join(folder(), 'home.yaml')
    writeFileSync(file, `site: { id: home, timezone: America/Denver }\n${boards}\n`)
    const loaded = loadConfig(file)
    expect(loaded.ok ? [] : loaded.errors.map(formatFinding)).toEqual([])
  })
})

describe('docs/configuration.md', () => {
  it('shows a mistake as `check` tells it', () => {
    const file = join(folder(), 'home.yaml')
    writeFileSync(file, readText('config/juniper.yaml').replace('daily_need: "40 gal"', 'daily_need: 40'))
    const loaded = loadConfig(file)
    const said = loaded.ok
      ? []
      : loaded.errors.map((finding) => formatFinding({ ...finding, file: 'config/home.yaml' }))
    expect(said.length).toBe(1)
    expect(fenced(readText('docs/configuration.md'), '')).toContain(said[0])
  })
})

describe('alarms', () => {
  it('docs/alarms.md has every alarm that is judged; README.md names those that are not', () => {
    const judged = ALARM_DEFINITIONS.map(({ id }) => id)
    const manual = readText('docs/alarms.md')
    expect(judged.filter((id) => !manual.includes(`\n## ${id}\n`))).toEqual([])
    const open = section(readText('README.md'), '## What is not there yet')
    const named = codes(open).filter((word) => ALARM_IDS.some((id) => id === word))
    expect([...named].sort()).toEqual(ALARM_IDS.filter((id) => !judged.includes(id)).toSorted())
  })
})

describe('docs/figures.md', () => {
  it("gives the battery's limits that the engine goes by", () => {
    const site = juniper()
    const table = rows(section(readText('docs/figures.md'), '## Battery')).filter(([cell = '']) => cell.startsWith('`'))
    expect(table.length).toBe(4)
    for (const [cell = '', ...limits] of table) {
      const chemistry = codes(cell)[0] as Chemistry
      const plan = createPlan({ ...site, battery: { chemistry, nominalVoltageV: 12, capacityAh: null } })
      const expected = [plan.limits?.rest, plan.limits?.loaded, plan.limits?.cutOff]
      expect([chemistry, limits.map(Number)]).toEqual([chemistry, expected])
    }
  })
})

describe('docs/api.md', () => {
  it('has every route of the API, and no other', async () => {
    const { app } = createFakeApp()
    await app.ready()
    const { paths } = app.swagger() as { paths: Record<string, Record<string, unknown>> }
    await app.close()
    const real = Object.entries(paths).flatMap(([path, methods]) =>
      Object.keys(methods).map((method) => `${method.toUpperCase()} ${path}`),
    )
    const listed = rows(readText('docs/api.md')).flatMap(([cell = '']) => routesOf(cell))
    expect([...listed].sort()).toEqual([...real].sort())
  })
})

/** `GET /api/x?from&to` gives `GET /api/x`; "`POST`, `GET` … /api/session" gives each method with the path. */
function routesOf(cell: string): readonly string[] {
  const path = /\/[\w/{}.]+/
  const whole = path.exec(cell)?.[0]
  if (whole === undefined) return []
  return [...cell.matchAll(/GET|POST|DELETE/g)].map(([method]) => `${method} ${whole}`)
}
