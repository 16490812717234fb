/** Vehicles: made, listed, and taken in from a document. */
import { keepChangingDigest } from './changing-digests.ts'
import type { Clock } from './clock.ts'
import type { Actor, Change, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { documentOn } from './document-of.ts'
import type { Part, VehicleDocument } from './engine-types.ts'
import { liveEntries, vehicleRow } from './entry-rows.ts'
import type { Facts } from './facts.ts'
import { newId } from './ids.ts'
import { append, savedOnce } from './journal.ts'
import { partsById } from './part-rows.ts'
import { createPart } from './parts.ts'
import { factsOf } from './projection.ts'
import { done, refusal, refused } from './refusals.ts'
import { vehicles } from './schema.ts'

export type VehicleFacts = Facts & { readonly id: string }

/** `id`, where it is given, is the one the vehicle is to have: said twice, it makes one. */
export function createVehicle(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly id?: string | undefined; readonly name: string; readonly systemVoltage_V: number; readonly notes?: string | undefined },
): Result<{ id: string }> {
  const name = given.name.trim()
  const faults: Refusal[] = []
  if (name.length < 1 || name.length > 120)
    faults.push(refusal('not-valid', 'Give the vehicle a name of 1 to 120 letters.', { field: 'name' }))
  if (!(given.systemVoltage_V > 0 && given.systemVoltage_V <= 1000))
    faults.push(refusal('not-valid', 'Give a system voltage above 0 V and up to 1000 V.', { field: 'systemVoltage_V' }))
  if ((given.notes ?? '').length > 5000) faults.push(refusal('not-valid', 'Keep the notes under 5000 letters.', { field: 'notes' }))
  if (faults.length > 0) return refused(faults)
  if (given.id !== undefined && vehicleRow(db, actor, given.id)) return done({ id: given.id })
  const id = given.id ?? newId(clock)
  const recorded = { recordedAt: clock.now().toISOString(), recordedBy: actor.personId }
  return inTransaction(db, () => {
    db.insert(vehicles)
      .values({ id, householdId: actor.householdId, name, systemVoltage_V: given.systemVoltage_V, notes: given.notes ?? '', ...recorded })
      .run()
    keepChangingDigest(db, 'vehicles', id)
    return done({ id })
  })
}

/** Some of the vehicles, from the one numbered `from`; all of them if no range is given. */
export function vehiclesOf(db: Db, actor: Actor, given: { readonly from?: number; readonly most?: number } = {}): VehicleFacts[] {
  const sql = 'SELECT id FROM vehicles WHERE household_id = ? ORDER BY id LIMIT ? OFFSET ?'
  const ids = db.$client
    .prepare(sql)
    .pluck()
    .all(actor.householdId, given.most ?? -1, given.from ?? 0) as string[]
  const facts = factsOf(db, actor, ids)
  return ids.map((id) => ({ id, ...(facts.get(id) as Facts) }))
}

export function vehicleCount(db: Db, actor: Actor): number {
  return Number(db.$client.prepare('SELECT count(*) FROM vehicles WHERE household_id = ?').pluck().get(actor.householdId))
}

/** Every vehicle by what it is called today. */
export function vehicleNames(db: Db, actor: Actor): readonly { readonly id: string; readonly name: string }[] {
  const sql = `SELECT v.id, coalesce(f.name, v.name) AS name FROM vehicles v LEFT JOIN vehicle_facts f ON f.vehicle_id = v.id
    WHERE v.household_id = ? ORDER BY v.id`
  return db.$client.prepare(sql).all(actor.householdId) as { id: string; name: string }[]
}

export function vehicleOf(
  db: Db,
  actor: Actor,
  id: string,
): (VehicleFacts & { readonly notes: string; readonly recordedAt: string }) | null {
  const row = vehicleRow(db, actor, id)
  if (!row) return null
  return { id, ...(factsOf(db, actor, [id]).get(id) as Facts), notes: row.notes, recordedAt: row.recordedAt }
}

/** One entry, "Recorded as found", with all that the document holds; parts already on the shelf, the same in every figure, are used again. */
export function importDocument(
  db: Db,
  clock: Clock,
  actor: Actor,
  document: VehicleDocument,
  effectiveOn: string,
  given: { readonly id?: string | undefined } = {},
): Result<{ vehicleId: string; entryId: string }> {
  return inTransaction(db, () => {
    const before = given.id === undefined ? undefined : liveEntries(db, actor, given.id)[0]
    if (given.id !== undefined && vehicleRow(db, actor, given.id)) return done({ vehicleId: given.id, entryId: before?.id ?? '' })
    const { name, systemVoltage_V, ...figures } = document.vehicle
    const made = createVehicle(db, clock, actor, { id: given.id, name, systemVoltage_V })
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
