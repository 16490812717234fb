/** What every page of a vehicle starts from. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { today } from '../../records/clock.ts'
import { reportOn } from '../../records/projection.ts'
import { vehicleOf } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'

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
export function dayFrom(app: FastifyInstance, request: FastifyRequest): { readonly on: string; readonly isToday: boolean } {
  const { on } = request.query as { on?: unknown }
  const now = todayOf(app)
  if (typeof on !== 'string' || !/^\d{4}-\d{2}-\d{2}$/.test(on) || on >= now) return { on: now, isToday: true }
  return { on, isToday: false }
}

/** The document and report of the vehicle on a day. */
export function judgedOn(
  app: FastifyInstance,
  request: FastifyRequest,
  vehicleId: string,
  day: { readonly on: string; readonly isToday: boolean },
) {
  return reportOn(app.db, request.actor, vehicleId, day.isToday ? undefined : day.on)
}
