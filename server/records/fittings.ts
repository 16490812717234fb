/** Where a part is and was fitted, and where it failed: over all vehicles and dates. */

import { createHash } from 'node:crypto'
import type { Clock } from './clock.ts'
import { noteName } from './component-name.ts'
import type { Actor, Change, Fate, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { liveEntries } from './entry-rows.ts'
import { append } from './journal.ts'
import { partsById } from './part-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { stateOn } from './state.ts'

export type Fitting = {
  readonly vehicleId: string
  readonly vehicleName: string
  readonly component: string
  /** as it was called while it held the part, at the last */
  readonly componentName: string
  readonly from: string
  readonly until: string | null
  /** what became of the part that came out; null while it is in */
  readonly fate: Fate | null
  /** the entry that took it out; null while it is in */
  readonly endedBy: string | null
}

/** Every place that held the part, in every vehicle, latest first. */
export function whereFitted(db: Db, actor: Actor, partId: string): Fitting[] {
  return vehiclesThatHeld(db, actor, partId)
    .flatMap((vehicleId) => fittingsIn(db, actor, vehicleId, partId))
    .sort((a, b) => (a.from < b.from ? 1 : a.from > b.from ? -1 : 0))
}

export type Failure = {
  readonly partId: string
  readonly vehicleId: string
  readonly component: string
  /** in how many other places it is fitted now */
  readonly elsewhere: number
}

/** Parts that an entry took out as failed. */
export function failuresOf(db: Db, actor: Actor, entryId: string): readonly Failure[] {
  const row = db.$client
    .prepare('SELECT vehicle_id AS vehicleId FROM entries WHERE id = ? AND household_id = ?')
    .get(entryId, actor.householdId)
  if (!row) return []
  const { vehicleId } = row as { vehicleId: string }
  const held = new Map<string, string>()
  const failed: { readonly partId: string; readonly component: string }[] = []
  for (const entry of liveEntries(db, actor, vehicleId))
    for (const change of entry.changes) {
      const old = change.kind === 'removed' || change.kind === 'swapped' ? held.get(change.component) : undefined
      if ((change.kind === 'removed' || change.kind === 'swapped') && change.fate === 'failed' && entry.id === entryId && old !== undefined)
        failed.push({ partId: old, component: change.component })
      if (change.kind === 'fitted') held.set(change.component.key, change.component.part)
      if (change.kind === 'swapped') held.set(change.component, change.part)
    }
  return failed.map(({ partId, component }) => {
    const now = whereFitted(db, actor, partId).filter((one) => one.until === null)
    return {
      partId,
      vehicleId,
      component,
      elsewhere: now.filter((one) => one.vehicleId !== vehicleId || one.component !== component).length,
    }
  })
}

export type Inspection = {
  readonly partId: string
  readonly places: readonly { readonly vehicleId: string; readonly component: string }[]
  readonly what: string
  /** the day it is recorded, and the day by which to look */
  readonly effectiveOn: string
  readonly by: string
  readonly onceKey: string
}

/** A look at every place named put on the list of what is due: an ordinary entry in each vehicle, all of them or none. */
export function putInspections(db: Db, clock: Clock, actor: Actor, given: Inspection): Result<{ entryIds: string[] }> {
  return inTransaction(db, () => {
    const part = partsById(db, actor).get(given.partId)
    if (!part) return refused([refusal('not-found', 'There is no such part.')])
    if (given.places.length === 0) return refused([refusal('not-valid', 'Tick at least one place to look at.', { field: 'places' })])
    const holders = whereFitted(db, actor, part.id).filter((one) => one.until === null)
    const entryIds: string[] = []
    for (const vehicleId of [...new Set(given.places.map((one) => one.vehicleId))]) {
      const here = given.places.filter((one) => one.vehicleId === vehicleId)
      const lost = here.find((one) => !holders.some((held) => held.vehicleId === vehicleId && held.component === one.component))
      if (lost) return refused([refusal('not-valid', `${part.name} is not fitted at "${lost.component}" there now.`, { field: 'places' })])
      const saved = append(db, clock, actor, {
        vehicleId,
        effectiveOn: given.effectiveOn,
        title: `To look at: ${given.what}`.slice(0, 200),
        onceKey: `${given.onceKey} ${vehicleId}`,
        changes: here.map(({ component }) => ({
          kind: 'due-set',
          key: inspectionKey({ partId: part.id, component }),
          component,
          what: given.what,
          on: given.by,
        })),
      })
      if (!saved.ok) return saved
      entryIds.push(saved.value.id)
    }
    return done({ entryIds })
  })
}

/** The same part at the same component is one thing to look at, however often it is put on the list. */
export function inspectionKey(given: { readonly partId: string; readonly component: string }): string {
  const both = createHash('sha256').update(`${given.partId} ${given.component}`).digest('hex').slice(0, 12)
  return `look-${given.component.slice(0, 60)}-${both}`
}

/** What fitted or swapped which part where, by rows: they never change, so only what was recorded since is read. */
type Held = { readonly lastRow: number; readonly lastId: string; readonly byPart: Map<string, Set<string>> }
const kept = new WeakMap<Db, Map<string, Held>>()

/** Vehicles in whose journal the part is named as fitted, whether that still counts or not; the fold decides. */
function vehiclesThatHeld(db: Db, actor: Actor, partId: string): readonly string[] {
  return [...(heldBy(db, actor).byPart.get(partId) ?? [])]
}

function heldBy(db: Db, actor: Actor): Held {
  const mine = kept.get(db) ?? new Map<string, Held>()
  kept.set(db, mine)
  const before = mine.get(actor.householdId)
  // Read in a transaction that came to nothing, the last row is not there any more, or is another.
  const isThere = before && db.$client.prepare('SELECT id FROM changes WHERE rowid = ?').pluck().get(before.lastRow) === before.lastId
  const from: Held = isThere ? before : { lastRow: 0, lastId: '', byPart: new Map() }
  const sql = `SELECT rowid AS row, id, vehicle_id AS vehicle, json_extract(payload, iif(kind = 'fitted', '$.component.part', '$.part')) AS part
    FROM changes WHERE rowid > ? AND household_id = ? AND kind IN ('fitted', 'swapped') ORDER BY rowid`
  const rows = db.$client.prepare(sql).all(from.lastRow, actor.householdId) as {
    readonly row: number
    readonly id: string
    readonly vehicle: string
    readonly part: string
  }[]
  for (const { vehicle, part } of rows) from.byPart.set(part, (from.byPart.get(part) ?? new Set<string>()).add(vehicle))
  const last = rows.at(-1)
  const held: Held = last ? { lastRow: last.row, lastId: last.id, byPart: from.byPart } : from
  mine.set(actor.householdId, held)
  return held
}

function fittingsIn(db: Db, actor: Actor, vehicleId: string, partId: string): Fitting[] {
  const vehicleName = stateOn(db, actor, vehicleId).vehicle.name
  const all: Fitting[] = []
  const names = new Map<string, string>()
  const open = new Map<string, string>()
  const nameOf = (component: string): string => names.get(component) ?? component
  const close = (component: string, ended: { readonly on: string; readonly fate: Fate; readonly entryId: string } | null): void => {
    const from = open.get(component)
    open.delete(component)
    if (from === undefined) return
    const place = { vehicleId, vehicleName, component, componentName: nameOf(component), from }
    all.push({ ...place, until: ended?.on ?? null, fate: ended?.fate ?? null, endedBy: ended?.entryId ?? null })
  }
  const note = (change: Change, entry: { readonly id: string; readonly on: string }): void => {
    const ended = (fate: Fate) => ({ on: entry.on, fate, entryId: entry.id })
    if (change.kind === 'removed' || change.kind === 'swapped') close(change.component, ended(change.fate))
    noteName(names, change)
    if (change.kind === 'swapped' && change.part === partId) open.set(change.component, entry.on)
    if (change.kind === 'fitted' && change.component.part === partId) open.set(change.component.key, entry.on)
  }
  for (const { id, effectiveOn, changes } of liveEntries(db, actor, vehicleId))
    for (const change of changes) note(change, { id, on: effectiveOn })
  for (const component of [...open.keys()]) close(component, null)
  return all
}
