/** Vehicles: made, listed, and taken in from a document. */
import { asc, eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Change, Refusal, Result, SavedEntry } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { documentOn } from './document-of.ts'
import type { Part, VehicleDocument } from './engine-types.ts'
import { liveEntries, vehicleRow } from './entry-rows.ts'
import { newId } from './ids.ts'
import { append, entriesOf, savedOnce } from './journal.ts'
import { partsById } from './part-rows.ts'
import { createPart } from './parts.ts'
import { done, refusal, refused } from './refusals.ts'
import { vehicles } from './schema.ts'
import { stateOn } from './state.ts'

export type VehicleFacts = {
  readonly id: string
  readonly name: string
  readonly systemVoltage_V: number
  /** the latest three entries that stand */
  readonly latest: readonly SavedEntry[]
  readonly odometer_km: number | null
  readonly entryCount: number
}

export function createVehicle(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly name: string; readonly systemVoltage_V: number; readonly notes?: string | undefined },
): Result<{ id: string }> {
  const name = given.name.trim()
  const faults: Refusal[] = []
  if (name.length < 1 || name.length > 120)
    faults.push(refusal('not-valid', 'Give the vehicle a name of 1 to 120 letters.', { field: 'name' }))
  if (!(given.systemVoltage_V > 0 && given.systemVoltage_V <= 1000))
    faults.push(refusal('not-valid', 'Give a system voltage above 0 V and up to 1000 V.', { field: 'systemVoltage_V' }))
  if ((given.notes ?? '').length > 5000) faults.push(refusal('not-valid', 'Keep the notes under 5000 letters.', { field: 'notes' }))
  if (faults.length > 0) return refused(faults)
  const id = newId(clock)
  const recorded = { recordedAt: clock.now().toISOString(), recordedBy: actor.personId }
  db.insert(vehicles)
    .values({ id, householdId: actor.householdId, name, systemVoltage_V: given.systemVoltage_V, notes: given.notes ?? '', ...recorded })
    .run()
  return done({ id })
}

export function vehiclesOf(db: Db, actor: Actor): VehicleFacts[] {
  const rows = db
    .select({ id: vehicles.id })
    .from(vehicles)
    .where(eq(vehicles.householdId, actor.householdId))
    .orderBy(asc(vehicles.id))
    .all()
  return rows.map(({ id }) => factsOf(db, actor, id))
}

export function vehicleOf(
  db: Db,
  actor: Actor,
  id: string,
): (VehicleFacts & { readonly notes: string; readonly recordedAt: string; readonly firstOn: string | null }) | null {
  const row = vehicleRow(db, actor, id)
  if (!row) return null
  return {
    ...factsOf(db, actor, id),
    notes: row.notes,
    recordedAt: row.recordedAt,
    firstOn: liveEntries(db, actor, id)[0]?.effectiveOn ?? null,
  }
}

/** One entry, "Recorded as found", with all that the document holds; parts already on the shelf, the same in every figure, are used again. */
export function importDocument(
  db: Db,
  clock: Clock,
  actor: Actor,
  document: VehicleDocument,
  effectiveOn: string,
): Result<{ vehicleId: string; entryId: string }> {
  return inTransaction(db, () => {
    const { name, systemVoltage_V, ...figures } = document.vehicle
    const made = createVehicle(db, clock, actor, { name, systemVoltage_V })
    if (!made.ok) return made
    const ids = new Map<string, string>()
    const known = new Map([...partsById(db, actor).values()].map((part) => [told(part), part.id]))
    for (const part of document.parts) {
      const same = known.get(told(part))
      const created = same === undefined ? createPart(db, clock, actor, part) : done({ id: same })
      if (!created.ok) return refused(created.refusals.map((one) => ({ ...one, field: `parts.${part.key}.${one.field ?? ''}` })))
      ids.set(part.key, created.value.id)
      known.set(told(part), created.value.id)
    }
    const entry = append(db, clock, actor, {
      vehicleId: made.value.id,
      effectiveOn,
      title: 'Recorded as found',
      changes: changesOf(document, figures, ids),
      asFound: true,
    })
    return entry.ok ? done({ vehicleId: made.value.id, entryId: entry.value.id }) : entry
  })
}

/** A new vehicle wired as another is today, with the same parts, in one entry. What is the other's own (plate, odometer, history) stays there. */
export function copyVehicle(
  db: Db,
  clock: Clock,
  actor: Actor,
  vehicleId: string,
  given: { readonly name: string; readonly effectiveOn: string; readonly onceKey?: string | undefined },
): Result<{ vehicleId: string; entryId: string }> {
  return inTransaction(db, () => {
    if (!vehicleRow(db, actor, vehicleId)) return refused([refusal('not-found', 'There is no such vehicle.')])
    const already = savedOnce(db, actor, given.onceKey)
    if (already) return done({ vehicleId: already.vehicleId, entryId: already.id })
    const document = documentOn(db, actor, vehicleId)
    const { name, systemVoltage_V, ...figures } = document.vehicle
    const made = createVehicle(db, clock, actor, { name: given.name, systemVoltage_V })
    if (!made.ok) return made
    const entry = append(db, clock, actor, {
      vehicleId: made.value.id,
      effectiveOn: given.effectiveOn,
      title: `Recorded as a copy of ${name}`,
      changes: changesOf(document, figures, new Map(document.parts.map((part) => [part.key, part.key]))),
      onceKey: given.onceKey,
      asFound: true,
    })
    return entry.ok ? done({ vehicleId: made.value.id, entryId: entry.value.id }) : entry
  })
}

function changesOf(document: VehicleDocument, figures: Record<string, unknown>, ids: ReadonlyMap<string, string>): Change[] {
  return [
    ...(Object.keys(figures).length > 0 ? [{ kind: 'described', vehicle: figures } as const] : []),
    ...(document.zones ?? []).map((zone) => ({ kind: 'described', zone }) as const),
    ...document.components.map(
      (component) => ({ kind: 'fitted', component: { ...component, part: ids.get(component.part) ?? component.part } }) as const,
    ),
    ...document.joins.map((join) => ({ kind: 'joined', ...join }) as const),
    ...(document.conditions ?? []).map((condition) => ({ kind: 'described', condition }) as const),
  ]
}

function told(part: Part): string {
  const sorted = (record: object): unknown => Object.entries(record).sort(([a], [b]) => (a < b ? -1 : 1))
  return JSON.stringify([part.kind, part.name, sorted(part.ratings), sorted(part.evidence ?? {})])
}

function factsOf(db: Db, actor: Actor, id: string): VehicleFacts {
  const { name, systemVoltage_V } = stateOn(db, actor, id).vehicle
  const live = liveEntries(db, actor, id)
  const latest = entriesOf(db, actor, id)
    .filter((entry) => !entry.withdrawn)
    .slice(0, 3)
  const odometer_km = live.reduce<number | null>((last, entry) => entry.odometer_km ?? last, null)
  return { id, name, systemVoltage_V, latest, odometer_km, entryCount: live.length }
}
