import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aSite, bench, LOOK_MS, START } from './facts.js'

const MIN = 60_000
const HOUR = 3_600_000

describe('silence', () => {
  const silent =
    (ids: readonly string[], from = START) =>
    (facts: Facts) => {
      facts.boards = facts.boards.map((board) => (ids.includes(board.id) ? { ...board, lastHeard: from } : board))
      facts.lastHeard = Math.max(...facts.boards.map((board) => board.lastHeard ?? 0))
    }
  const all = ['tank-board', 'pump-board', 'power-board']

  it('of one board is told after 5 intervals or 5 min, whichever is more', () => {
    const it_ = bench().run(900, silent(['tank-board']))
    expect(it_.keys()).toEqual(['board-silent:tank-board'])
    expect(it_.secondsTo('board-silent:tank-board')).toBe(300)
    const slow = aSite()
    const rare = slow.boards.map((board) => ({ ...board, expectEveryS: 120 }))
    const other = bench({ ...slow, boards: rare }).run(900, (facts) => {
      silent(['tank-board'])(facts)
      facts.boards = facts.boards.map((board) => ({ ...board, expectEveryS: 120 }))
    })
    expect(other.secondsTo('board-silent:tank-board')).toBe(600)
  })

  it('of one board that talks but cannot be read is told as that, and the site is not called silent for it', () => {
    const it_ = bench()
    it_.daemon = {
      ...it_.daemon,
      unreadable: all.map((board) => ({ board, since: START, count: 40, reason: 'not-senml' })),
    }
    it_.run(1_800, silent(all))
    const raised = it_.outcomes.flatMap(({ notices }) => notices.map(({ alarm }) => alarm))
    expect(raised.map(({ id, cause }) => `${id} ${cause}`)).toEqual(['board-silent unreadable'])
    expect(raised[0]?.words.title).toMatch(/talks but cannot be read/)
  })

  it('of all boards is one message for the site, after 15 min', () => {
    const it_ = bench().run(7_200, silent(all))
    expect(it_.told).toEqual([{ at: START + 900_000, reason: 'raised', key: 'site-silent:site' }])
  })

  it('of one board goes on when the others fall silent too, since nothing says that it is back', () => {
    const it_ = bench().run(600, silent(['tank-board']))
    it_.run(600, (facts) => {
      silent(all, START + 10 * MIN)(facts)
      silent(['tank-board'])(facts)
    })
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([['board-silent:tank-board', 'raised']])
    expect(it_.judge.active(it_.state)).toHaveLength(1)
  })

  it('of one board is no matter while the boards come back one by one after an outage of all', () => {
    const it_ = bench()
      .run(840, silent(all))
      .run(30, silent(['tank-board']))
    expect(it_.run(600).keys()).toEqual([])
  })

  it('of a board that does not come back with the others is told 5 min after they did', () => {
    const it_ = bench()
      .run(840, silent(all))
      .run(600, silent(['tank-board']))
    expect(it_.keys()).toEqual(['board-silent:tank-board'])
    expect((it_.secondsTo('board-silent:tank-board') ?? 0) - 840).toBeGreaterThanOrEqual(300)
    expect((it_.secondsTo('board-silent:tank-board') ?? 0) - 840).toBeLessThanOrEqual(330)
  })

  it('of one board does not end because an outage of all did', () => {
    const it_ = bench().run(600, silent(['tank-board']))
    it_.run(300, (facts) => {
      silent(all, START + 10 * MIN)(facts)
      silent(['tank-board'])(facts)
    })
    it_.run(120, silent(['tank-board']))
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised'])
    expect(it_.judge.active(it_.state)).toHaveLength(1)
  })

  it('of all boards waits for twice the longest outage that healed itself', () => {
    const it_ = bench().run(7_800, (facts) => {
      silent(all)(facts)
      facts.longestOutageMs = HOUR
    })
    expect(it_.secondsTo('site-silent:site')).toBe(7_200)
  })

  it('does not count while nobody listened', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, listeningSince: START + 10 * MIN }
    it_.run(2_400, silent(all, START - 5 * HOUR))
    expect(it_.secondsTo('site-silent:site')).toBe(600 + 900)
  })

  it('ends with the first word, whatever else is stale', () => {
    const it_ = bench().run(1_200, silent(all)).run(900)
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
  })

  it('of a board that was never heard is told too, once others have talked', () => {
    const it_ = bench().run(1_800, (facts) => {
      facts.firstHeard = START
      facts.boards = facts.boards.map((board) => (board.id === 'tank-board' ? { ...board, lastHeard: null } : board))
    })
    expect(it_.keys()).toEqual(['board-silent:tank-board'])
    expect(it_.judge.active(it_.state)[0]?.cause).toBe('never-heard')
  })
})

describe('sensor-suspect', () => {
  it('is told within 30 min of the contradiction', () => {
    const it_ = bench().run(1_800, (facts) => {
      facts.suspects = [{ key: 'tank-level', kind: 'failed-values', since: START, figure: 0.6 }]
    })
    expect(it_.keys()).toEqual(['sensor-suspect:tank-level'])
    expect(it_.secondsTo('sensor-suspect:tank-level')).toBeLessThanOrEqual(1_500)
  })

  it('is urgent when a line thermometer is lost in frost, and says what to believe', () => {
    const it_ = bench().run(900, (facts) => {
      facts.airC = -3
      facts.suspects = [{ key: 'line-temperature.outlet', kind: 'failed-values', since: START, figure: 1 }]
    })
    const [alarm] = it_.judge.active(it_.state)
    expect(alarm?.priority).toBe('high')
    expect(alarm?.words.what).toContain('freezing until you know better')
  })
})

describe('the daemon itself', () => {
  it('tells a store that cannot be written within 1 min, by its own clock', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, storeFailingSince: START + LOOK_MS, storeError: 'the disk is full' }
    it_.run(120)
    expect(it_.keys()).toEqual(['store-failing:store'])
    expect(it_.secondsTo('store-failing:store')).toBeLessThanOrEqual(15 + 45)
    expect(it_.judge.active(it_.state)[0]?.words.what).toContain('the disk is full')
  })

  it('tells the first failed round of telling', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, tellingFailingSince: START, tellingError: 'connection refused' }
    expect(it_.run(30).keys()).toEqual(['telling-failing:telling'])
  })

  it('tells a board whose clock lies ahead at once', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, suspectClocks: [{ board: 'tank-board', since: START, aheadS: 7_200 }] }
    expect(it_.run(15).keys()).toEqual(['clock-suspect:tank-board'])
  })
})

describe('two boards with one name', () => {
  it('are told at once, once, of the board, and nothing else of it for that', () => {
    const it_ = bench().run(30)
    it_.daemon = { ...it_.daemon, twoBoards: [{ board: 'tank-board', since: START, takeovers: 6 }] }
    it_.run(3_600)
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([['sensor-suspect:tank-board', 'raised']])
    expect(it_.secondsTo('sensor-suspect:tank-board')).toBeLessThanOrEqual(60)
  })
})

describe('a lost thermometer', () => {
  it('is of high priority when the frost comes, also when it was lost before', () => {
    const it_ = bench()
    const lost = (airC: number) => (facts: Facts) => {
      facts.airC = airC
      facts.suspects = [{ key: 'line-temperature.outlet', kind: 'failed-values', since: START, figure: 1 }]
    }
    it_.run(1_200, lost(5)).run(1_200, lost(-3))
    const said = it_.outcomes.flatMap(({ notices }) => notices)
    expect(said.map(({ reason, alarm }) => [reason, alarm.priority])).toEqual([
      ['raised', 'medium'],
      ['worsened', 'high'],
    ])
    expect(said[1]?.alarm.words.what).toMatch(/take it as freezing/)
  })
})
