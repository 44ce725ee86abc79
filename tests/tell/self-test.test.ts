import { describe, expect, it } from 'vitest'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { selfTests } from '../../src/tell/tell-test.js'
import { OPS, siteSettings, tellSettings } from './support.js'

const people = [{ ...OPS, ways: ['mail-1', 'hook-1', 'gone'] }]
const site = siteSettings({ tell: tellSettings({ selfTest: 'monthly', people }) })

describe('the monthly self-test', () => {
  it('goes to each person by each way that is configured, marked as a test', () => {
    const tests = selfTests(site, Date.UTC(2026, 2, 1, 17)) // 10:00 in Denver
    expect(tests.map(({ way, kind }) => `${way} ${kind}`)).toEqual(['mail-1 test', 'hook-1 test'])
    for (const { subject, short } of tests) {
      expect(subject).toMatch(/^TEST: /)
      expect(short).toMatch(/^TEST /)
    }
  })

  it('has one key a month, however often it is asked for, over a year with both clock changes', () => {
    const keys = new Set<string>()
    const start = Date.UTC(2026, 0, 1)
    for (let at = start; at < start + 365 * DAY; at += 30 * MINUTE) {
      for (const { key } of selfTests(site, at)) keys.add(key)
    }
    expect(keys.size).toBe(12 * 2)
  })

  it('wakes nobody, and does not start in the middle of a month', () => {
    expect(selfTests(site, Date.UTC(2026, 2, 1, 16, 59))).toEqual([])
    expect(selfTests(site, Date.UTC(2026, 2, 7, 17))).toHaveLength(2)
    expect(selfTests(site, Date.UTC(2026, 2, 8, 17) + 2 * HOUR)).toEqual([])
  })

  it('can be turned off', () => {
    expect(selfTests(siteSettings(), Date.UTC(2026, 2, 1, 20))).toEqual([])
  })
})
