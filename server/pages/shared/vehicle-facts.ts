/** What every page of a vehicle starts from. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import type { Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { today } from '../../records/clock.ts'
import { reportOn } from '../../records/projection.ts'
import { vehicleOf } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { usualCondition } from './ledger.ts'
import { type Option, option } from './options.ts'

/** `fault`: what is wrong with the day that was asked for as `typed`; the page then stands on today. */
export type Day = { readonly on: string; readonly isToday: boolean; readonly typed: string; readonly fault: string }

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

/** The day asked for by `?on=`, or today. A day that is none is answered as forms answer it. */
export function dayFrom(app: FastifyInstance, request: FastifyRequest): Day {
  const now = todayOf(app)
  const form = new FormReader(request.query)
  const typed = form.typed('on').trim().slice(0, 40)
  if (typed === '') return { on: now, isToday: true, typed, fault: '' }
  const on = form.date('on', { latest: now })
  const fault = form.faults[0]?.says ?? ''
  return fault === '' && on < now
    ? { on, isToday: false, typed: '', fault }
    : { on: now, isToday: true, typed: fault === '' ? '' : typed, fault }
}

export function statusOf(day: Day): number {
  return day.fault === '' ? 200 : 422
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

/** The way up from a page of a vehicle on a day. */
export function trailOn(
  vehicle: { readonly id: string; readonly name: string },
  day: Day,
  ...more: readonly { href: string; label: string }[]
) {
  const query = day.isToday ? '' : `?on=${day.on}`
  return [{ href: '/', label: 'Vehicles' }, { href: `/vehicles/${vehicle.id}${query}`, label: vehicle.name }, ...more]
}

/** The way up from a page of a vehicle. */
export function trailOf(vehicle: { readonly id: string; readonly name: string }, ...more: readonly { href: string; label: string }[]) {
  return [{ href: '/', label: 'Vehicles' }, { href: `/vehicles/${vehicle.id}`, label: vehicle.name }, ...more]
}
