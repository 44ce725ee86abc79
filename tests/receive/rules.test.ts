import { describe, expect, test } from 'vitest'
import { covers, isLoopback, maySubscribe, rightsOf } from '../../src/receive/rules.js'
import { BOARDS } from './support.js'

describe('topic filters', () => {
  // The examples of MQTT 3.1.1, sections 4.7.1.2, 4.7.1.3 and 4.7.2.
  test.each([
    ['sport/tennis/player1/#', 'sport/tennis/player1', true],
    ['sport/tennis/player1/#', 'sport/tennis/player1/ranking', true],
    ['sport/tennis/player1/#', 'sport/tennis/player1/score/wimbledon', true],
    ['sport/#', 'sport', true],
    ['sport/tennis/+', 'sport/tennis/player1', true],
    ['sport/tennis/+', 'sport/tennis/player1/ranking', false],
    ['sport/+', 'sport', false],
    ['sport/+', 'sport/', true],
    ['+/+', '/finance', true],
    ['/+', '/finance', true],
    ['+', '/finance', false],
    ['#', '$SYS/broker', false],
    ['+/monitor/Clients', '$SYS/monitor/Clients', false],
    ['$SYS/#', '$SYS/monitor/Clients', true],
  ])('%s covers the topic %s: %s', (pattern, topic, expected) => {
    expect(covers(pattern, topic)).toBe(expected)
  })

  test.each([
    ['water/juniper/#', 'water/juniper/+', true],
    ['water/juniper/#', 'water/juniper/#', true],
    ['water/juniper/#', 'water/#', false],
    ['water/juniper/#', 'water/+/tank-board', false],
    ['water/+', 'water/#', false],
    ['water/+', 'water/+', true],
    ['water/#', '#', false],
  ])('%s covers the filter %s: %s', (pattern, filter, expected) => {
    expect(covers(pattern, filter)).toBe(expected)
  })
})

describe('rights', () => {
  test('a board whose name two sites have, and that names no site, may do nothing', () => {
    const rights = rightsOf({ name: 'pump-board', role: 'board' }, BOARDS)
    expect(rights.publish.size).toBe(0)
    expect(maySubscribe(rights, 'water/juniper/pump-board')).toBe(false)
  })

  test('a board that names no site is found when it is the only one of its name', () => {
    expect([...rightsOf({ name: 'tank-board', role: 'board' }, BOARDS).publish]).toEqual([
      'water/juniper/tank-board',
      'meters/tank/level',
    ])
  })

  test('a board account that no board has, or of another site, may do nothing', () => {
    expect(rightsOf({ name: 'weather-board', role: 'board', site: 'juniper' }, BOARDS).publish.size).toBe(0)
    expect(rightsOf({ name: 'tank-board', role: 'board', site: 'fern' }, BOARDS).publish.size).toBe(0)
  })
})

test.each([
  ['127.0.0.1', true],
  ['127.8.9.10', true],
  ['::1', true],
  ['::ffff:127.0.0.1', true],
  ['localhost', true],
  ['0.0.0.0', false],
  ['::', false],
  ['10.0.0.1', false],
  ['127.0.0.1.example', false],
  ['', false],
])('%s is loopback: %s', (host, expected) => {
  expect(isLoopback(host)).toBe(expected)
})
