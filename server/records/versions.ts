/** The versions of an entry, and what undoing the last save means: the earlier version again, or the entry withdrawn. */
import type { Clock } from './clock.ts'
import type { Actor, NewEntry, Result, SavedEntry } from './contract.ts'
import type { Db } from './database.ts'
import { type EntryRow, type Outline, outlineOf } from './entry-rows.ts'
import { correct, correctionsOf, entryOf } from './journal.ts'
import { refusal, refused } from './refusals.ts'

/** What one press would do: withdraw the entry, put its earlier version in its place again, or bring it back. */
export type Undo = 'withdraw' | 'earlier-version' | 'bring-back'
export type LastSave = { readonly entryId: string; readonly title: string; readonly recordedAt: string; readonly undo: Undo }

const undoneWithin_ms = 86_400_000

/** Oldest first, whichever of them is asked for; one alone where it was never corrected. */
export function versionsOf(db: Db, actor: Actor, entryId: string): readonly SavedEntry[] {
  const asked = entryOf(db, actor, entryId)
  if (!asked) return []
  const { byId } = outlineOf(db, actor, asked.vehicleId)
  const ids = [entryId]
  for (let row = byId.get(entryId); row?.correction === 'replaced' && row.correctsId !== null; row = byId.get(row.correctsId))
    ids.unshift(row.correctsId)
  for (let row = byId.get(entryId); row?.replacedBy; row = byId.get(row.replacedBy)) ids.push(row.replacedBy)
  return ids.flatMap((id) => entryOf(db, actor, id) ?? [])
}

/** The entry that a withdrawal, or the withdrawal of one, is about; any other entry is about itself. */
export function aboutEntry(db: Db, actor: Actor, entryId: string): string {
  const vehicleId = entryOf(db, actor, entryId)?.vehicleId
  return vehicleId === undefined ? entryId : aboutRow(outlineOf(db, actor, vehicleId).byId, entryId)
}

/** What this person saved last here, within a day, if it still stands so; null if there is nothing to undo. Reads only the rows it is about. */
export function lastSaveOf(db: Db, clock: Clock, actor: Actor, vehicleId: string): LastSave | null {
  const now_ms = clock.now().getTime()
  const [since, until] = [now_ms - undoneWithin_ms, now_ms + undoneWithin_ms].map((at_ms) => new Date(at_ms).toISOString())
  const sql = `SELECT ${columns} FROM entries INDEXED BY entries_by_recording
    WHERE vehicle_id = ? AND household_id = ? AND recorded_by = ? AND recorded_at > ? AND recorded_at < ? ORDER BY rowid DESC LIMIT 1`
  const last = db.$client.prepare(sql).get(vehicleId, actor.householdId, actor.personId, since, until) as Recorded | undefined
  const entry = last && aboutRecorded(db, actor, last)
  if (!entry) return null
  const { replacedBy, withdrawnBy } = marksOf(db, actor, entry.id)
  if (replacedBy !== null) return null
  const answer = { entryId: entry.id, title: entry.title, recordedAt: last.recordedAt }
  if (last.correction === 'withdrawn') return { ...answer, undo: withdrawnBy === null ? 'withdraw' : 'bring-back' }
  if (withdrawnBy !== null) return null
  return { ...answer, undo: entry.correction === 'replaced' ? 'earlier-version' : 'withdraw' }
}

type Recorded = Pick<EntryRow, 'id' | 'title' | 'recordedAt' | 'correctsId' | 'correction'>
const columns = 'id, title, recorded_at AS recordedAt, corrects_id AS correctsId, correction'

function aboutRecorded(db: Db, actor: Actor, from: Recorded): Recorded | undefined {
  const read = db.$client.prepare(`SELECT ${columns} FROM entries WHERE id = ? AND household_id = ?`)
  let row: Recorded | undefined = from
  while (row?.correction === 'withdrawn' && row.correctsId !== null)
    row = read.get(row.correctsId, actor.householdId) as Recorded | undefined
  return row
}

/** The version in its place, and the withdrawal that stands: one that was itself withdrawn does not. */
function marksOf(db: Db, actor: Actor, id: string): { readonly replacedBy: string | null; readonly withdrawnBy: string | null } {
  const sql = 'SELECT id, correction FROM entries WHERE corrects_id = ? AND +household_id = ? ORDER BY rowid'
  const rows = db.$client.prepare(sql).all(id, actor.householdId) as Pick<Recorded, 'id' | 'correction'>[]
  return {
    replacedBy: rows.find((row) => row.correction === 'replaced')?.id ?? null,
    withdrawnBy: rows.find((row) => row.correction === 'withdrawn' && marksOf(db, actor, row.id).withdrawnBy === null)?.id ?? null,
  }
}

/**
 * Puts what the earlier version said in the place of a correction, as a version of its own: nothing is taken out of the history,
 * and undoing that puts the correction back. Pressed twice it makes one.
 */
export function undoCorrection(db: Db, clock: Clock, actor: Actor, entryId: string): Result<SavedEntry> {
  const versions = versionsOf(db, actor, entryId)
  const at = versions.findIndex((one) => one.id === entryId)
  const earlier = versions[at - 1]
  if (at < 0) return refused([refusal('not-found', 'There is no such entry.')])
  if (!earlier) return refused([refusal('not-valid', 'This entry has no earlier version. Withdraw it instead.')])
  return correct(db, clock, actor, entryId, { ...saidBy(earlier), onceKey: `undone ${entryId}` })
}

function saidBy(entry: SavedEntry): NewEntry {
  const { vehicleId, effectiveOn, title, text, odometer_km, cost_minor, changes } = entry
  return { vehicleId, effectiveOn, title, text, odometer_km: odometer_km ?? undefined, cost_minor: cost_minor ?? undefined, changes }
}

function aboutRow(byId: Outline['byId'], entryId: string): string {
  let row = byId.get(entryId)
  while (row?.correction === 'withdrawn' && row.correctsId !== null) row = byId.get(row.correctsId)
  return row?.id ?? entryId
}

/** The latest version of an entry, whether it still counts or is withdrawn. */
export function latestVersionOf(
  db: Db,
  actor: Actor,
  entryId: string,
): { readonly entry: SavedEntry; readonly isWithdrawn: boolean } | null {
  const entry = versionsOf(db, actor, entryId).at(-1)
  return entry ? { entry, isWithdrawn: correctionsOf(db, actor, entry.id)?.withdrawnBy != null } : null
}
