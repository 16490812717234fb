/** Why this one and not that: decisions of every vehicle, found by part or by component. */
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import { liveEntries, wholeRows } from './entry-rows.ts'
import { partsById } from './part-rows.ts'
import { stateOn } from './state.ts'

type Thing = { readonly name: string; readonly partId: string | null }
export type Decision = {
  readonly entryId: string
  readonly on: string
  readonly vehicleId: string
  readonly vehicleName: string
  readonly component: string | null
  readonly componentName: string | null
  readonly chosen: Thing | null
  readonly considered: readonly (Thing & { readonly whyNot: string })[]
  readonly why: string
}

/** Latest first: those that chose the part, and those that passed it over. */
export function decisionsAboutPart(db: Db, actor: Actor, partId: string): readonly Decision[] {
  const sql = `SELECT DISTINCT vehicle_id FROM changes WHERE household_id = ? AND kind = 'decided' AND (json_extract(payload, '$.chosen') = ?
    OR EXISTS (SELECT 1 FROM json_each(payload, '$.considered') WHERE json_extract(value, '$.part') = ?))`
  const ids = db.$client.prepare(sql).pluck().all(actor.householdId, partId, partId) as string[]
  return ids
    .flatMap((vehicleId) => decisionsIn(db, actor, vehicleId))
    .filter((one) => one.chosen?.partId === partId || one.considered.some((other) => other.partId === partId))
    .sort((a, b) => (a.on < b.on ? 1 : a.on > b.on ? -1 : 0))
}

export function decisionsAboutComponent(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly component: string },
): readonly Decision[] {
  return decisionsIn(db, actor, given.vehicleId).filter((one) => one.component === given.component)
}

function decisionsIn(db: Db, actor: Actor, vehicleId: string): readonly Decision[] {
  const sql =
    "SELECT DISTINCT entry_id FROM changes INDEXED BY changes_decided WHERE household_id = ? AND vehicle_id = ? AND kind = 'decided'"
  const deciding = new Set(db.$client.prepare(sql).pluck().all(actor.householdId, vehicleId) as string[])
  if (deciding.size === 0) return []
  const ids = liveEntries(db, actor, vehicleId).flatMap(({ id }) => (deciding.has(id) ? [id] : []))
  const found = wholeRows(db, actor, { vehicleId, ids })
    .flatMap((entry) => entry.changes.flatMap((change) => (change.kind === 'decided' ? [{ entry, change }] : [])))
    .reverse()
  if (found.length === 0) return []
  const parts = partsById(db, actor)
  const { vehicle, components } = stateOn(db, actor, vehicleId)
  const thing = (partId: string): Thing => ({ name: parts.get(partId)?.name ?? 'a part', partId })
  return found.map(({ entry, change }) => ({
    entryId: entry.id,
    on: entry.effectiveOn,
    vehicleId,
    vehicleName: vehicle.name,
    component: change.component ?? null,
    componentName: change.component === undefined ? null : (components.get(change.component)?.name ?? change.component),
    chosen: change.chosen === undefined ? null : thing(change.chosen),
    considered: considered(change, thing),
    why: change.why,
  }))
}

function considered(change: Extract<Change, { kind: 'decided' }>, thing: (partId: string) => Thing): Decision['considered'] {
  return change.considered.map((one) => ({ ...('part' in one ? thing(one.part) : { name: one.words, partId: null }), whyNot: one.whyNot }))
}
