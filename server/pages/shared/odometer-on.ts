/** The odometer as it was last read up to a day. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { entriesOf } from '../../records/journal.ts'
import type { Day } from './vehicle-facts.ts'

export function odometerOn<T extends { readonly id: string; readonly odometer_km: number | null }>(
  app: FastifyInstance,
  request: FastifyRequest,
  vehicle: T,
  day: Day,
): T {
  if (day.isToday) return vehicle
  const read = entriesOf(app.db, request.actor, vehicle.id).find(
    (entry) => !entry.withdrawn && entry.odometer_km !== null && entry.effectiveOn <= day.on,
  )
  return { ...vehicle, odometer_km: read?.odometer_km ?? null }
}
