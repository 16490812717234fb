/** The folded head of each vehicle and its report, kept by what they were made from. Never the truth: rebuilt at will. */
import { createHash } from 'node:crypto'
import { and, eq } from 'drizzle-orm'
import { CHECK_VERSION, checkVehicle } from '../engine/rules/check.ts'
import { systemClock } from './clock.ts'
import type { Actor } from './contract.ts'
import { noteBeside } from './damage.ts'
import type { Db } from './database.ts'
import { documentOf } from './document-of.ts'
import type { Report, VehicleDocument } from './engine-types.ts'
import { lastRowId } from './entry-rows.ts'
import { type Facts, factsFrom } from './facts.ts'
import { Lately } from './lately.ts'
import { type MissingRating, missingRatings } from './missing-ratings.ts'
import { digestOfParts, partsById } from './part-rows.ts'
import { pastReport } from './past-reports.ts'
import { projectionParts, projections, vehicleFacts } from './schema.ts'
import { type State, stateOn } from './state.ts'
import { othersGoFirst } from './turns.ts'
import { queueHead } from './webhooks.ts'

export type Judged = { readonly document: VehicleDocument; readonly report: Report; readonly stale: boolean }

type Kept = {
  /** of the row that it was read from */
  readonly key: string
  readonly partsDigest: string
  readonly checkVersion: string
  readonly stored: string
  readonly letters: number
  readonly document: VehicleDocument
  readonly report: Report
}
const kept = new WeakMap<Db, Lately<Kept>>()
/** Letters of the documents and reports held in memory, as they are stored. */
export const mostHeadLetters = 4_000_000

export function keptHeads(db: Db): Lately<Kept> {
  const mine = kept.get(db) ?? new Lately<Kept>(mostHeadLetters)
  kept.set(db, mine)
  return mine
}

/** After a transaction that came to nothing. */
export function forgetHeads(db: Db): void {
  kept.delete(db)
}

/**
 * Document and report on a date; today's head if no date is given. A stale head is made anew before it is answered,
 * unless `asKept` asks for what is there: then `stale` says so.
 */
export function reportOn(db: Db, actor: Actor, vehicleId: string, on?: string, given: { readonly asKept?: boolean } = {}): Judged {
  if (on !== undefined) {
    const { document, report } = pastReport(db, actor, vehicleId, on)
    return { document, report, stale: false }
  }
  const row = db
    .select({
      vehicleId: projections.vehicleId,
      lastEntryId: projections.lastEntryId,
      partsDigest: projections.partsDigest,
      checkVersion: projections.checkVersion,
      stale: projections.stale,
      facts: vehicleFacts.name,
    })
    .from(projections)
    .leftJoin(vehicleFacts, eq(vehicleFacts.vehicleId, projections.vehicleId))
    .where(and(eq(projections.vehicleId, vehicleId), eq(projections.householdId, actor.householdId)))
    .get()
  const fresh =
    row !== undefined &&
    row.stale === 0 &&
    row.facts !== null &&
    row.lastEntryId === lastRowId(db, actor, vehicleId) &&
    row.checkVersion === CHECK_VERSION
  if (row && (fresh || given.asKept)) return { ...readKept(db, actor, row), stale: !fresh }
  return headRead(db, actor, vehicleId).judged
}

/** The facts of these vehicles, made anew where they no longer hold. */
export function factsOf(db: Db, actor: Actor, vehicleIds: readonly string[]): ReadonlyMap<string, Facts> {
  const fresh = outdated(db, actor, vehicleIds).map((id) => [id, headRead(db, actor, id).facts] as const)
  const rows = db.$client
    .prepare('SELECT vehicle_id AS id, facts FROM vehicle_facts WHERE household_id = ? AND vehicle_id IN (SELECT value FROM json_each(?))')
    .all(actor.householdId, JSON.stringify(vehicleIds)) as { id: string; facts: string }[]
  return new Map([...rows.map((row) => [row.id, JSON.parse(row.facts) as Facts] as const), ...fresh])
}

/** What a head was made from is compared in one question for all of them. */
function outdated(db: Db, actor: Actor, vehicleIds: readonly string[]): readonly string[] {
  const last = 'SELECT e.id FROM entries e INDEXED BY entries_by_recording WHERE e.vehicle_id = v.id ORDER BY e.rowid DESC LIMIT 1'
  const text = `SELECT v.id FROM vehicles v LEFT JOIN projections p ON p.vehicle_id = v.id AND p.household_id = v.household_id
    LEFT JOIN vehicle_facts f ON f.vehicle_id = v.id
    WHERE v.household_id = ? AND v.id IN (SELECT value FROM json_each(?)) AND (p.vehicle_id IS NULL OR p.stale <> 0 OR f.vehicle_id IS NULL
      OR p.check_version <> ? OR p.last_entry_id <> coalesce((${last}), ''))`
  return db.$client.prepare(text).pluck().all(actor.householdId, JSON.stringify(vehicleIds), CHECK_VERSION) as string[]
}

/** Part ids and ratings that the findings of each vehicle miss. */
export function missingOf(db: Db, actor: Actor): readonly (readonly MissingRating[])[] {
  const own = db.$client.prepare('SELECT id FROM vehicles WHERE household_id = ?').pluck().all(actor.householdId) as string[]
  for (const id of outdated(db, actor, own)) headRead(db, actor, id)
  const missing = 'SELECT missing FROM vehicle_facts WHERE household_id = ? ORDER BY vehicle_id'
  return (db.$client.prepare(missing).pluck().all(actor.householdId) as string[]).map((text) => JSON.parse(text) as MissingRating[])
}

/** Makes and keeps the head from its folded state; `report` is given where it has just been made for this very document. Nothing is told of it. */
export function keepHead(
  db: Db,
  actor: Actor,
  vehicleId: string,
  head: State,
  judged?: { readonly document: VehicleDocument; readonly report: Report },
): Judged {
  const made = makeHead(db, actor, vehicleId, head, { judged, tells: false })
  made.store()
  return made.judged
}

/** Made for who reads. Where the disk is full it is answered without being kept, and is made again, and told of, the next time. */
function headRead(db: Db, actor: Actor, vehicleId: string): { readonly judged: Judged; readonly facts: Facts } {
  const made = makeHead(db, actor, vehicleId, stateOn(db, actor, vehicleId), { tells: true })
  if (db.$client.inTransaction) made.store()
  else noteBeside(made.store)
  return made
}

function makeHead(
  db: Db,
  actor: Actor,
  vehicleId: string,
  head: State,
  given: { readonly judged?: { readonly document: VehicleDocument; readonly report: Report } | undefined; readonly tells: boolean },
): { readonly judged: Judged; readonly facts: Facts; readonly store: () => void } {
  const { judged, tells } = given
  const parts = partsById(db, actor)
  const document = judged?.document ?? documentOf(head, parts, undefined)
  const report = judged?.report ?? checkVehicle(document)
  const facts = factsFrom(db, actor, { vehicleId, head, document, report })
  const lastEntryId = lastRowId(db, actor, vehicleId)
  const before = keptHeads(db).get(vehicleId)
  const store =
    before?.document === document && before.report === report
      ? () => storeFacts(db, actor, { vehicleId, lastEntryId, facts, before })
      : () => storeHead(db, actor, { vehicleId, lastEntryId, facts, parts, document, report, tells })
  return { judged: { document, report, stale: false }, facts, store: () => void db.$client.transaction(store)() }
}

type Made = { readonly vehicleId: string; readonly lastEntryId: string; readonly facts: Facts }

function storeHead(
  db: Db,
  actor: Actor,
  made: Made & {
    readonly parts: ReturnType<typeof partsById>
    readonly document: VehicleDocument
    readonly report: Report
    readonly tells: boolean
  },
): void {
  const { vehicleId, lastEntryId, facts, parts, document, report } = made
  const { householdId } = actor
  const ids = document.parts.map((part) => part.key)
  const row = {
    ...{ vehicleId, householdId, lastEntryId, partsDigest: digestOfParts(parts, ids), checkVersion: CHECK_VERSION, stale: 0 },
    ...{ document: JSON.stringify(document), report: JSON.stringify(report) },
  }
  // Who reads brings no clock: it is told of by the machine's own.
  if (made.tells) queueHead(db, systemClock, actor, { ...row, judged: report })
  const missing = JSON.stringify(missingRatings(document, report))
  const told = { vehicleId, householdId, name: facts.name, missing, facts: JSON.stringify(facts) }
  db.insert(projections).values(row).onConflictDoUpdate({ target: projections.vehicleId, set: row }).run()
  db.insert(vehicleFacts).values(told).onConflictDoUpdate({ target: vehicleFacts.vehicleId, set: told }).run()
  db.delete(projectionParts)
    .where(and(eq(projectionParts.vehicleId, vehicleId), eq(projectionParts.householdId, householdId)))
    .run()
  for (const partId of ids) db.insert(projectionParts).values({ vehicleId, partId, householdId }).run()
}

/** Where document and report are those that are stored: they are long, and most entries leave them as they are. */
function storeFacts(db: Db, actor: Actor, made: Made & { readonly before: Kept }): void {
  const { vehicleId, lastEntryId, facts, before } = made
  const own = [vehicleId, actor.householdId]
  const moved = 'UPDATE projections SET last_entry_id = ? WHERE vehicle_id = ? AND household_id = ?'
  const told = 'UPDATE vehicle_facts SET name = ?, facts = ? WHERE vehicle_id = ? AND household_id = ?'
  db.$client.prepare(moved).run(lastEntryId, ...own)
  db.$client.prepare(told).run(facts.name, JSON.stringify(facts), ...own)
  keptHeads(db).set(vehicleId, { ...before, key: keyOf({ ...before, lastEntryId }) }, before.letters)
}

/** Called in the transaction of a part's revision: the vehicles that hold it must be judged again. */
export function markStale(db: Db, actor: Actor, partId: string): void {
  db.$client
    .prepare(
      'UPDATE projections SET stale = 1 WHERE household_id = ? AND vehicle_id IN (SELECT vehicle_id FROM projection_parts WHERE part_id = ? AND household_id = ?)',
    )
    .run(actor.householdId, partId, actor.householdId)
}

/** Judges again what is outdated in the household: by a part's revision, or by a check that has changed. Answers how many vehicles that were. */
export async function recheck(db: Db, householdId: string): Promise<number> {
  const actor: Actor = { householdId, personId: '', name: '' }
  const own = db.$client.prepare('SELECT id FROM vehicles WHERE household_id = ?').pluck().all(householdId) as string[]
  let judged = 0
  for (const id of outdated(db, actor, own)) {
    reportOn(db, actor, id)
    // What the disk did not take is left for the next round.
    if (outdated(db, actor, [id]).length > 0) break
    judged += 1
    await othersGoFirst()
  }
  return judged
}

/** Makes every kept head that should be of today again from its journal. Answers how many had not read as they should. */
export async function remakeHeads(db: Db): Promise<number> {
  const rows = db
    .select()
    .from(projections)
    .where(and(eq(projections.stale, 0), eq(projections.checkVersion, CHECK_VERSION)))
    .all()
  forgetHeads(db)
  let wrong = 0
  for (const row of rows) {
    const actor: Actor = { householdId: row.householdId, personId: '', name: '' }
    if (row.lastEntryId !== lastRowId(db, actor, row.vehicleId)) continue
    const { document, report } = keepHead(db, actor, row.vehicleId, stateOn(db, actor, row.vehicleId))
    if (JSON.stringify(document) !== row.document || JSON.stringify(report) !== row.report) wrong += 1
    await othersGoFirst()
  }
  return wrong
}

/** The kept document and report; read and parsed only where they are not the ones in memory. */
function readKept(
  db: Db,
  actor: Actor,
  row: Pick<typeof projections.$inferSelect, 'vehicleId' | 'lastEntryId' | 'partsDigest' | 'checkVersion'>,
): { readonly document: VehicleDocument; readonly report: Report } {
  const mine = keptHeads(db)
  const key = keyOf(row)
  const before = mine.get(row.vehicleId)
  if (before?.key === key) return before
  const stored = db
    .select({ document: projections.document, report: projections.report })
    .from(projections)
    .where(and(eq(projections.vehicleId, row.vehicleId), eq(projections.householdId, actor.householdId)))
    .get()
  if (!stored) throw new Error(`no projection of ${row.vehicleId}`)
  // An entry that changes no wiring leaves the document as it was: the very same one is held on to, with all that was worked out from it.
  const isSame = before?.stored === digestOf(stored)
  const { document, report } = isSame
    ? before
    : { document: JSON.parse(stored.document) as VehicleDocument, report: JSON.parse(stored.report) as Report }
  const letters = stored.document.length + stored.report.length
  const { partsDigest, checkVersion } = row
  const read = { key, partsDigest, checkVersion, stored: isSame ? before.stored : digestOf(stored), letters, document, report }
  mine.set(row.vehicleId, read, letters)
  return read
}

function keyOf(row: { readonly lastEntryId: string; readonly partsDigest: string; readonly checkVersion: string }): string {
  return `${row.lastEntryId} ${row.partsDigest} ${row.checkVersion}`
}

function digestOf(stored: { readonly document: string; readonly report: string }): string {
  return createHash('sha256').update(stored.document).update('\n').update(stored.report).digest('base64url')
}
