import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { EXAMPLES, exampleFile } from '../support/example-config.js'
import { folder, lines, verb } from './support.js'

/** The verbs of the contract's section 1 that the program has. */
const VERBS = [
  'run',
  'demo',
  'check',
  'replay',
  'import',
  'recompute',
  'export',
  'account',
  'tell-test',
  'backup',
] as const

describe('words', () => {
  it('lists every verb with --help and ends well', async () => {
    const { code, out, err } = await verb(['--help'])
    expect(code).toBe(0)
    expect(err).toBe('')
    for (const name of VERBS) expect(out).toMatch(new RegExp(`^ {2}${name}\\b`, 'm'))
  })

  it.each(VERBS)('explains %s with --help', async (name) => {
    const { code, out, err } = await verb([name, '--help'])
    expect({ code, err }).toEqual({ code: 0, err: '' })
    expect(out).toContain(`Usage: sightglass ${name}`)
    if (name !== 'demo') expect(out).toContain('--config <file>')
  })

  it.each([
    ['an unknown verb', ['watch']],
    ['no verb', []],
    ['an unknown option', ['check', '--config', EXAMPLES.juniper, '--loudly']],
    ['a missing option', ['check']],
    ['too many words', ['check', 'juniper', '--config', EXAMPLES.juniper]],
    ['a table that is none', ['export', '--config', EXAMPLES.juniper, '--what', 'everything']],
    ['a level that is none', ['run', '--config', EXAMPLES.juniper, '--log-level', 'shout']],
    ['a speed out of bounds', ['demo', '--speed', '0']],
    ['a speed that is no number', ['demo', '--speed', 'fast']],
    ['a time that is none', ['export', '--config', EXAMPLES.juniper, '--what', 'days', '--from', 'yesterday']],
    ['an act that is none', ['account', 'change', 'ops', '--config', EXAMPLES.juniper]],
    ['an account without a name', ['account', 'add', '--config', EXAMPLES.juniper]],
    ['a configuration that is not there', ['check', '--config', join(EXAMPLES.juniper, '..', 'none.yaml')]],
  ])('answers %s with exit code 2 and says what is wrong', async (_what, words) => {
    const { code, out, err } = await verb(words)
    expect(code).toBe(2)
    expect(out).toBe('')
    expect(err).not.toBe('')
    expect(err).not.toMatch(/\bat .*\.[jt]s:\d/)
  })

  it('names the option, what was found and what was expected in one line', async () => {
    const { err } = await verb(['demo', '--speed', 'fast'])
    expect(lines(err)).toHaveLength(1)
    expect(err).toContain('--speed')
    expect(err).toContain('fast')
    expect(err).toContain('0.1 to 5000')
  })

  it('answers work that fails with exit code 1', async () => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    const cases = [
      ['replay', '--config', config, '--in', join(path, 'none.ndjson'), '--out', join(path, 'out')],
      ['import', '--config', config, '--in', join(path, 'none.ndjson')],
      ['export', '--config', exampleFile(join(path, 'empty'), 'fern'), '--what', 'days'],
      ['backup', '--config', exampleFile(join(path, 'empty'), 'fern'), '--out', join(path, 'copy.db')],
    ]
    for (const words of cases) {
      const { code, err } = await verb(words)
      expect({ words, code }).toEqual({ words, code: 1 })
      expect(lines(err)).toHaveLength(1)
    }
  })
})

describe('check', () => {
  it.each(Object.entries(EXAMPLES))('finds nothing to say against the example %s', async (_site, file) => {
    const { code, out, err } = await verb(['check', '--config', file])
    expect({ code, err }).toEqual({ code: 0, err: '' })
    expect(out).toContain('0 warnings')
  })

  it('says every mistake at once, a line each, with file, line and column, and exits with 2', async () => {
    const file = join(folder(), 'site.yaml')
    writeFileSync(
      file,
      [
        'site: { id: juniper, timezone: America/Nowhere }',
        'tank:',
        '  shape: { box: { length: 3, width: "1 m", height: "1 m" } }',
        '  low_mark: "3 V"',
        'pumpp: {}',
        '',
      ].join('\n'),
    )
    const { code, out, err } = await verb(['check', '--config', file])
    expect(code).toBe(2)
    expect(out).toBe('')
    const said = lines(err)
    for (const line of said) expect(line.startsWith(`${file}:`)).toBe(true)
    expect(said.map((line) => line.slice(file.length).split(' ')[0])).toEqual(
      expect.arrayContaining([
        expect.stringMatching(/^:1:\d+:/),
        expect.stringMatching(/^:3:\d+:/),
        expect.stringMatching(/^:4:\d+:/),
        expect.stringMatching(/^:5:\d+:/),
      ]),
    )
    expect(err).toContain('pump')
  })

  it('warns of what is legal but unwise on standard error, and still ends well', async () => {
    const file = exampleFile(folder(), 'juniper', { tell: { people: [], ways: {} } })
    const { code, out, err } = await verb(['check', '--config', file])
    expect(code).toBe(0)
    expect(out).toContain('1 warning')
    expect(lines(err)).toHaveLength(1)
    expect(err).toMatch(/^warning: .*tell/)
  })

  it.each(['replay', 'import', 'recompute', 'backup', 'tell-test', 'run'])(
    'a broken configuration stops %s with exit code 2 before it does anything',
    async (name) => {
      const path = folder()
      const file = join(path, 'site.yaml')
      writeFileSync(file, 'site: { id: juniper }\n')
      const more =
        name === 'replay'
          ? ['--in', file, '--out', path]
          : name === 'import'
            ? ['--in', file]
            : name === 'backup'
              ? ['--out', join(path, 'b')]
              : []
      const { code, err } = await verb([name, '--config', file, ...more])
      expect(code).toBe(2)
      expect(err).toContain(`${file}:1:`)
    },
  )
})
