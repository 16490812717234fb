/** What every page of a vehicle starts from. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import type { Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { today } from '../../records/clock.ts'
import { reportOn } from '../../records/projection.ts'
import { vehicleOf } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { usualCondition } from './ledger.ts'
import { type Option, option } from './options.ts'

export type Day = { readonly on: string; readonly isToday: boolean }

export function todayOf(app: FastifyInstance): string {
  return today(app.clock, app.config.timeZone)
}

/** The vehicle named in the address, or not found. */
export function vehicleFrom(app: FastifyInstance, request: FastifyRequest) {
  const { id } = request.params as { id: string }
  const vehicle = vehicleOf(app.db, request.actor, id)
  if (!vehicle) throw new NotFound('There is no such vehicle here.')
  return vehicle
}

/** The day asked for by `?on=`, or today. */
export function dayFrom(app: FastifyInstance, request: FastifyRequest): Day {
  const { on } = request.query as { on?: unknown }
  const now = todayOf(app)
  if (typeof on !== 'string' || !/^\d{4}-\d{2}-\d{2}$/.test(on) || on >= now) return { on: now, isToday: true }
  return { on, isToday: false }
}

/** The document and report of the vehicle on a day. */
export function judgedOn(app: FastifyInstance, request: FastifyRequest, vehicleId: string, day: Day) {
  return reportOn(app.db, request.actor, vehicleId, day.isToday ? undefined : day.on)
}

export type Chosen = {
  readonly index: number
  readonly key: string
  readonly name: string
  readonly options: readonly Option[]
  /** by the address; else it is the usual one */
  readonly isAsked: boolean
  /** "?on=…&condition=…", or nothing */
  readonly query: string
}

/** The condition asked for by `?condition=`, or the usual one; and the query that keeps day and condition on the next page. */
export function conditionFrom(
  request: FastifyRequest,
  judged: { readonly document: VehicleDocument; readonly report: Report },
  day: Day,
): Chosen {
  const { condition } = request.query as { condition?: unknown }
  const { conditions } = judged.report
  const asked = conditions.findIndex((one) => one.key === condition)
  const index = asked >= 0 ? asked : usualCondition(judged.document, judged.report)
  const isAsked = asked >= 0
  const parts = [day.isToday ? '' : `on=${day.on}`, isAsked ? `condition=${conditions[asked]?.key}` : ''].filter((one) => one !== '')
  return {
    index,
    key: conditions[index]?.key ?? '',
    name: conditions[index]?.name ?? '',
    options: conditions.map((one) => option(one.key, one.name, conditions[index]?.key ?? '')),
    isAsked,
    query: parts.length > 0 ? `?${parts.join('&')}` : '',
  }
}

/** The way up from a page of a vehicle. */
export function trailOf(vehicle: { readonly id: string; readonly name: string }, ...more: readonly { href: string; label: string }[]) {
  return [{ href: '/', label: 'Vehicles' }, { href: `/vehicles/${vehicle.id}`, label: vehicle.name }, ...more]
}
