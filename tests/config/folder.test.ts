/** One daemon, many sites: a folder with daemon.yaml and a file for each site. */
import { chmodSync, mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { type Finding, formatFinding, loadConfig } from '../../src/config/index.js'
import { errorsOf, folderOf, settingsOf } from './support.js'

const site = (id: string, more = ''): string => `site: { id: ${id}, timezone: UTC }\n${more}`
const short = (folder: string, findings: readonly Finding[]): string[] =>
  findings.map((finding) => formatFinding(finding).replaceAll(`${folder}/`, ''))

const DAEMON = `store: { file: water.db }
broker: { embedded: { port: 2883 } }
tell:
  people: [{ name: ops, ways: [w] }]
  ways: { w: { kind: mqtt, topic: told } }
`

describe('a folder of sites', () => {
  it('is one daemon with every site, in order of the files', () => {
    const folder = folderOf({
      'daemon.yaml': DAEMON,
      'b.yaml': site('one'),
      'a.yml': site('two'),
      'c.json': '{"site":{"id":"three","timezone":"UTC"}}',
    })
    const settings = settingsOf(loadConfig(folder))
    expect(settings.sites.map((each) => each.id)).toEqual(['two', 'one', 'three'])
    expect(settings.store.file).toBe(join(folder, 'water.db'))
    expect(settings.broker).toMatchObject({ kind: 'embedded', port: 2883 })
  })

  it("tells the daemon's people of every site that has none of its own", () => {
    const own = 'tell: { people: [{ name: me, ways: [v] }], ways: { v: { kind: web-push } } }'
    const folder = folderOf({ 'daemon.yaml': DAEMON, 'a.yaml': site('a'), 'b.yaml': site('b', own) })
    const people = settingsOf(loadConfig(folder)).sites.map((each) => each.tell.people.map((person) => person.name))
    expect(people).toEqual([['ops'], ['me']])
  })

  it('takes defaults for the daemon where daemon.yaml is missing', () => {
    const folder = folderOf({ 'a.yaml': site('a') })
    const settings = settingsOf(loadConfig(folder))
    expect(settings.broker).toMatchObject({ kind: 'embedded', host: '127.0.0.1', port: 1883 })
    expect(settings.store.file).toBe(join(folder, 'data/sightglass.db'))
  })

  it('leaves alone what is no configuration', () => {
    const folder = folderOf({
      'daemon.yaml': DAEMON,
      'a.yaml': site('a'),
      'notes.txt': 'x',
      '.hidden.yaml': 'x',
      'site.schema.json': '{}',
      'secrets/key.yaml': 'x',
    })
    expect(settingsOf(loadConfig(folder)).sites).toHaveLength(1)
  })

  it('names file and line of every mistake in every file', () => {
    const folder = folderOf({
      'daemon.yaml': 'page: { port: "x" }\nunits: us\n',
      'a.yaml': site('a', 'store: {}\n'),
      'b.yaml': site('b', 'well: { lift: 3 }\n'),
      'c.yaml': 'a: [\n',
    })
    const lines = short(folder, errorsOf(loadConfig(folder)))
    expect(lines).toHaveLength(5)
    expect(lines[0]).toMatch(/^a\.yaml:2:1: store: does not belong in this file; found "store"; expected daemon\.yaml/)
    expect(lines[1]).toMatch(/^b\.yaml:2:15: well\.lift: needs a unit/)
    expect(lines[2]).toMatch(/^c\.yaml:2:1: /)
    expect(lines[3]).toMatch(/^daemon\.yaml:1:15: page\.port/)
    expect(lines[4]).toMatch(/^daemon\.yaml:2:1: units: does not belong in this file.*the site's own file/)
  })

  it('refuses two sites of one id, at the second', () => {
    const folder = folderOf({ 'a.yaml': site('same'), 'b.yaml': site('same') })
    expect(short(folder, errorsOf(loadConfig(folder)))).toEqual([
      'b.yaml:1:13: site.id: is the id of another site too; found "same"; expected each id once',
    ])
  })

  it('refuses a topic that two sites share, and lets a gateway of one site carry several boards', () => {
    const board = 'boards: { g: { topic: shared } }'
    const folder = folderOf({ 'a.yaml': site('a', board), 'b.yaml': site('b', board) })
    expect(short(folder, errorsOf(loadConfig(folder)))).toEqual([
      'b.yaml:2:23: boards.g.topic: is a topic of board g of site a too; found "shared"; expected each topic for one board',
    ])
    const gateway = `boards:
  one: { signals: { tank-level: { topic: gw, decode: json, pointer: /a } } }
  two: { signals: { pump-current: { topic: gw, decode: json, pointer: /b } } }
`
    expect(errorsOf(loadConfig(folderOf({ 'a.yaml': site('a', gateway) })))).toEqual([])
    const across = folderOf({ 'a.yaml': site('a', gateway), 'b.yaml': site('b', gateway) })
    expect(errorsOf(loadConfig(across))).toHaveLength(2)
  })

  it('refuses a folder without a site, and a second file for the daemon', () => {
    const empty = folderOf({ 'daemon.yaml': DAEMON })
    expect(short(empty, errorsOf(loadConfig(empty))).join()).toMatch(/holds no site.*beside daemon\.yaml/)
    const two = folderOf({ 'daemon.yaml': DAEMON, 'daemon.yml': DAEMON, 'a.yaml': site('a') })
    expect(short(two, errorsOf(loadConfig(two))).join()).toMatch(/^daemon\.yml: is a second file of the daemon/)
  })

  it('holds hundreds of sites', () => {
    const text = (i: number): string => site(`s${i}`, 'boards: { b: { signals: { tank-level: , pump-current: } } }')
    const files = Object.fromEntries(Array.from({ length: 300 }, (_, i) => [`s${i}.yaml`, text(i)]))
    const settings = settingsOf(loadConfig(folderOf(files)))
    expect(new Set(settings.sites.map((each) => each.boards[0]?.topic)).size).toBe(300)
  })
})

describe('a file that cannot be read', () => {
  const lines = (files: Record<string, string | Uint8Array>): string[] => {
    const folder = folderOf(files)
    return short(folder, errorsOf(loadConfig(join(folder, 'site.yaml'))))
  }

  it('is named, with the reason', () => {
    expect(lines({})[0]).toMatch(/^site\.yaml: cannot be read: there is no such file/)
    expect(lines({ 'site.yaml': '' })).toEqual(['site.yaml:1:1: the file is empty'])
    expect(lines({ 'site.yaml': '# only a remark\n' })).toHaveLength(1)
    expect(lines({ 'site.yaml': '- a\n- b\n' })).toEqual(['site.yaml:1:1: the file is no list of sections'])
    expect(lines({ 'site.yaml': Uint8Array.of(0x73, 0xff, 0xfe) })[0]).toMatch(/not UTF-8/)
    expect(lines({ 'site.yaml': '#'.repeat(1024 * 1024 + 1) })[0]).toMatch(/1048577 bytes; expected at most 1048576/)
  })

  it('is placed by line and column where its YAML is broken', () => {
    expect(lines({ 'site.yaml': 'site:\n\tid: x\n' })[0]).toMatch(
      /^site\.yaml:2:1: .*indent with spaces, not with tabs/,
    )
    expect(lines({ 'site.yaml': 'units: us\nunits: si\n' })[0]).toMatch(/^site\.yaml:2:1: .*each key once/)
    expect(lines({ 'site.yaml': 'site: { id: x\n' })[0]).toMatch(/^site\.yaml:2:1: /)
    expect(lines({ 'site.yaml': 'units: us\n---\nunits: si\n' })[0]).toMatch(
      /^site\.yaml:2:1: .*more than one document/,
    )
    expect(lines({ 'site.yaml': 'site: *nowhere\n' })[0]).toBe(
      'site.yaml:1:7: *nowhere stands for nothing: no &nowhere before it',
    )
    expect(lines({ 'site.yaml': '? [a, b]\n: c\n' })).toEqual([
      'site.yaml:1:3: a key must be one word, not a list or a section',
    ])
  })

  it('cannot fill the memory with anchors', () => {
    const layers = Array.from({ length: 12 }, (_, i) => `a${i + 1}: &a${i + 1} [${Array(9).fill(`*a${i}`).join(', ')}]`)
    const bomb = ['a0: &a0 [x]', ...layers].join('\n')
    expect(lines({ 'site.yaml': bomb })[0]).toMatch(/cannot be read: Excessive alias count/)
  })

  it('may use anchors in honest measure, and starts with a byte order mark if an editor wrote one', () => {
    const text = `\ufeffsite: { id: x, timezone: UTC }\nboards:\n  a: &b { signals: { tank-level: l } }\n  c: *b\n`
    expect(lines({ 'site.yaml': text }).join()).toMatch(/sent by board a too/)
  })
})

describe('a secret', () => {
  const config = (name: string): string =>
    `site: { id: x, timezone: UTC }\nbroker: { external: { url: "mqtts://h.example.org", password_file: ${name} } }\n`
  const loadWith = (prepare: (folder: string) => void) => {
    const folder = folderOf({ 'site.yaml': config('key') })
    prepare(folder)
    const loaded = loadConfig(join(folder, 'site.yaml'))
    return { loaded, errors: short(folder, errorsOf(loaded)), warnings: short(folder, loaded.warnings) }
  }

  it('whose file is missing is an error that names the file', () => {
    const { errors } = loadWith(() => undefined)
    expect(errors).toEqual([
      'site.yaml:2:68: broker.external.password_file: names a file that cannot be read; found key; expected a file (there is no such file)',
    ])
  })

  it('whose file is empty, a folder, or far too large is an error', () => {
    expect(loadWith((f) => writeFileSync(join(f, 'key'), '\n', { mode: 0o600 })).errors[0]).toMatch(
      /names an empty file/,
    )
    expect(loadWith((f) => mkdirSync(join(f, 'key'))).errors[0]).toMatch(/names something that is no file/)
    const large = 'x'.repeat(70_000)
    const { errors } = loadWith((f) => writeFileSync(join(f, 'key'), large, { mode: 0o600 }))
    expect(errors[0]).toMatch(/too large for a secret; found .*70000 bytes; expected at most 65536/)
  })

  it('that every user can read is a warning with the cure', () => {
    const { warnings, loaded } = loadWith((f) => {
      writeFileSync(join(f, 'key'), 'hunter2\n')
      chmodSync(join(f, 'key'), 0o644)
    })
    expect(loaded.ok).toBe(true)
    expect(warnings.join()).toMatch(/password_file: can be read by every user of this machine.*chmod 600/)
    expect(warnings.join()).not.toContain('hunter2')
  })

  it('keeps blanks inside, and loses only the last line end', () => {
    const { loaded } = loadWith((f) => writeFileSync(join(f, 'key'), ' two words \r\n', { mode: 0o600 }))
    expect(settingsOf(loaded).broker).toMatchObject({ password: ' two words ' })
  })
})
