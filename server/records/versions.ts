/** The versions of an entry, and what undoing the last save means: the earlier version again, or the entry withdrawn. */
import type { Clock } from './clock.ts'
import type { Actor, NewEntry, Result, SavedEntry } from './contract.ts'
import type { Db } from './database.ts'
import { type EntryRow, journalOf } from './entry-rows.ts'
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
  const { byId } = journalOf(db, actor, asked.vehicleId)
  const ids = [entryId]
  for (let row = byId.get(entryId); row?.correction === 'replaced' && row.correctsId !== null; row = byId.get(row.correctsId))
    ids.unshift(row.correctsId)
  for (let row = byId.get(entryId); row?.replacedBy; row = byId.get(row.replacedBy)) ids.push(row.replacedBy)
  return ids.flatMap((id) => entryOf(db, actor, id) ?? [])
}

/** The entry that a withdrawal, or the withdrawal of one, is about; any other entry is about itself. */
export function aboutEntry(db: Db, actor: Actor, entryId: string): string {
  const vehicleId = entryOf(db, actor, entryId)?.vehicleId
  return vehicleId === undefined ? entryId : aboutRow(journalOf(db, actor, vehicleId).byId, entryId)
}

/** What this person saved last here, within a day, if it still stands so; null if there is nothing to undo. */
export function lastSaveOf(db: Db, clock: Clock, actor: Actor, vehicleId: string): LastSave | null {
  const now_ms = clock.now().getTime()
  const since = new Date(now_ms - undoneWithin_ms).toISOString()
  // Mostly there is none: then the journal need not be read.
  const any = 'SELECT 1 FROM entries WHERE vehicle_id = ? AND household_id = ? AND recorded_by = ? AND recorded_at > ? LIMIT 1'
  if (!db.$client.prepare(any).get(vehicleId, actor.householdId, actor.personId, since)) return null
  const { rows, byId } = journalOf(db, actor, vehicleId)
  const mine = rows.filter((row) => row.recordedBy === actor.personId && Math.abs(now_ms - Date.parse(row.recordedAt)) < undoneWithin_ms)
  const last = mine.reduce<EntryRow | null>((latest, row) => (latest === null || row.id > latest.id ? row : latest), null)
  if (!last) return null
  const entry = byId.get(aboutRow(byId, last.id))
  if (!entry || entry.replacedBy !== null) return null
  const answer = { entryId: entry.id, title: entry.title, recordedAt: last.recordedAt }
  if (last.correction === 'withdrawn') return { ...answer, undo: entry.withdrawnBy === null ? 'withdraw' : 'bring-back' }
  if (entry.withdrawnBy !== null) return null
  return { ...answer, undo: entry.correction === 'replaced' ? 'earlier-version' : 'withdraw' }
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

function aboutRow(byId: ReadonlyMap<string, EntryRow>, entryId: string): string {
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
