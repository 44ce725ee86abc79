/** What has been learned here: the figures with what they rest on, how yield and energy stand, the check valve. */
import type { UsualBody } from '../bodies/usual.js'
import { el, table } from './dom.js'
import { duration, type People } from './people.js'

type Figure = UsualBody['figures'][number]

function value(figure: Figure, people: People): string {
  if (figure.quantity === 'resistance') return `${(figure.value * 1000).toFixed(0)} mΩ`
  return figure.quantity === 'duration' ? duration(figure.value) : people.say(figure.quantity, figure.value)
}

/** The doubt of one fill about the usual, as a part of it; of what lies near nothing, as a figure. */
function spread(figure: Figure, people: People): string {
  if (figure.sd === null) return 'not known'
  if (figure.id === 'current-zero') return `± ${people.say('current', 2 * figure.sd)}`
  if (figure.quantity === 'duration') return `± ${duration(2 * figure.sd)}`
  if (figure.quantity === 'level') return `± ${people.say('level', 2 * figure.sd)}`
  const share = figure.value === 0 ? 0 : (200 * figure.sd) / Math.abs(figure.value)
  return share < 0.05 ? 'under 0.1 %' : `± ${share.toFixed(1)} %`
}

function restsOn(figure: Figure): string {
  if (figure.rests_on === null) return 'the last days'
  const many = figure.id === 'drop-per-ampere' ? 'starts' : 'fills'
  return `${figure.rests_on} ${figure.rests_on === 1 ? many.slice(0, -1) : many}`
}

/** Nothing until there is something to show. */
export function usualPart(body: UsualBody, people: People): HTMLElement[] {
  const rows = body.figures.map((figure) => [
    figure.name,
    value(figure, people),
    spread(figure, people),
    restsOn(figure),
    people.when(figure.since),
  ])
  const moved = [body.yield, body.energy].map((drift) =>
    el(
      'li',
      {},
      drift.direction === 'fallen' || drift.direction === 'risen' ? el('strong', {}, drift.sentence) : drift.sentence,
    ),
  )
  const lines = [...moved, el('li', {}, body.check_valve.sentence)]
  const ask = body.suggestion === null ? [] : [el('p', { class: 'todo' }, body.suggestion.sentence)]
  const head = ['What', 'Usual', 'Spread (2 sd)', 'Rests on', 'Since']
  const figures = el(
    'details',
    {},
    el('summary', {}, 'Figures that were learned'),
    table('Robust middle and spread of complete fills', head, rows),
  )
  return [...ask, el('ul', {}, ...lines), ...(rows.length === 0 ? [] : [figures])]
}
