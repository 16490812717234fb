/** A component, or what was found of it, is known but was not there on the day asked for: says so, and offers other days. Not found, but for a reason. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { lifeOf } from '../../records/life.ts'
import { dateWords } from '../../web/format.ts'
import { type DayView, dayView } from './day-view.ts'
import { type Day, statusOf, trailOn } from './vehicle-facts.ts'

export type View = {
  readonly day: DayView
  readonly lead: string
  readonly lifeHref: string
  readonly branchHref: string
  readonly times: readonly string[]
}

export function absent(
  app: FastifyInstance,
  request: FastifyRequest,
  reply: FastifyReply,
  given: {
    readonly vehicle: { readonly id: string; readonly name: string; readonly firstOn: string | null }
    readonly day: Day
    readonly component: string
    readonly name: string
    /** the rule, where it is a finding that is not there */
    readonly what?: string
  },
): FastifyReply {
  const { vehicle, day, name } = given
  const life = lifeOf(app.db, request.actor, vehicle.id, given.component)
  const branch = `/vehicles/${vehicle.id}/components/${given.component}`
  const shown = dayView(day, { vehicle, path: request.url.split('?')[0] as string })
  const when = day.isToday ? 'today' : `on ${dateWords(day.on)}`
  const isThere = life?.fittings.some((one) => one.from <= day.on && (one.until === null || day.on < one.until)) === true
  const view: View = {
    day: shown,
    lead:
      shown.before ||
      (isThere ? `${name} was not judged by this rule ${when}.` : `${name} ${day.isToday ? 'is' : 'was'} not fitted ${when}.`),
    lifeHref: `${branch}/life`,
    branchHref: isThere ? `${branch}${day.isToday ? '' : `?on=${day.on}`}` : '',
    times: (life?.fittings ?? []).map(
      (one) => `from ${dateWords(one.from)}${one.until === null ? ' until now' : ` to ${dateWords(one.until)}`}`,
    ),
  }
  const heading = given.what === undefined ? name : `${name}: ${given.what}`
  return reply.page('shared/absent', view, {
    ...{ title: `${heading} · ${vehicle.name}`, heading, section: 'vehicles' },
    status: day.fault === '' ? 404 : statusOf(day),
    trail: trailOn(vehicle, day),
  })
}
