/** The odometer as it was last read up to a day. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { readingsOf } from '../../records/due.ts'
import type { Day } from './vehicle-facts.ts'

export function odometerOn<T extends { readonly id: string; readonly odometer_km: number | null }>(
  app: FastifyInstance,
  request: FastifyRequest,
  vehicle: T,
  day: Day,
): T {
  if (day.isToday) return vehicle
  return { ...vehicle, odometer_km: readingsOf(app.db, request.actor, vehicle.id, { upTo: day.on }).at(-1)?.odometer_km ?? null }
}
