/** Reads the journal's rows in its order, which is said here and nowhere else: (effective_on, place_id). */
import { and, asc, eq, getTableColumns } from 'drizzle-orm'
import type { Actor, Change, Shown } from './contract.ts'
import type { Db } from './database.ts'
import { Lately } from './lately.ts'
import { changes, entries, people, vehicles } from './schema.ts'

export type EntryRow = Omit<typeof entries.$inferSelect, 'shown'> & {
  readonly changes: readonly Change[]
  readonly author: string
  /** the withdrawal that undid it, or the version that took its place */
  readonly withdrawnBy: string | null
  readonly replacedBy: string | null
}

export type Journal = {
  readonly rows: readonly EntryRow[]
  readonly byId: ReadonlyMap<string, EntryRow>
  readonly live: readonly EntryRow[]
  /** the row recorded last, of whatever sort */
  readonly lastId: string
}

const kept = new WeakMap<Db, Lately<Journal>>()
/** Rows and changes held in memory, of all journals together: some twenty megabytes. */
export const mostJournalRows = 40_000

export function keptJournals(db: Db): Lately<Journal> {
  const mine = kept.get(db) ?? new Lately<Journal>(mostJournalRows)
  kept.set(db, mine)
  return mine
}

export function vehicleRow(db: Db, actor: Actor, id: string): typeof vehicles.$inferSelect | undefined {
  return db
    .select()
    .from(vehicles)
    .where(and(eq(vehicles.id, id), eq(vehicles.householdId, actor.householdId)))
    .get()
}

export function liveEntries(db: Db, actor: Actor, vehicleId: string): readonly EntryRow[] {
  return journalOf(db, actor, vehicleId).live
}

/** Kept in memory: rows never change, so a journal with the same last row is the same. What each entry showed is left where it is: it is long. */
export function journalOf(db: Db, actor: Actor, vehicleId: string): Journal {
  const key = `${actor.householdId} ${vehicleId}`
  const mine = keptJournals(db)
  const lastId = lastRowId(db, actor, vehicleId)
  const before = mine.get(key)
  if (before && before.lastId === lastId) return before
  const journal = readJournal(db, actor, vehicleId, lastId)
  mine.set(
    key,
    journal,
    journal.rows.reduce((sum, row) => sum + 1 + row.changes.length, 0),
  )
  return journal
}

export function lastRowId(db: Db, actor: Actor, vehicleId: string): string {
  const sql = 'SELECT id FROM entries INDEXED BY entries_by_recording WHERE vehicle_id = ? AND household_id = ? ORDER BY rowid DESC LIMIT 1'
  return String(db.$client.prepare(sql).pluck().get(vehicleId, actor.householdId) ?? '')
}

/** What these entries showed when they were saved. */
export function shownOf(db: Db, actor: Actor, ids: readonly string[]): ReadonlyMap<string, Shown> {
  const rows = db.$client
    .prepare('SELECT id, shown FROM entries WHERE id IN (SELECT value FROM json_each(?)) AND household_id = ? AND shown IS NOT NULL')
    .all(JSON.stringify(ids), actor.householdId) as { id: string; shown: string }[]
  return new Map(rows.map((row) => [row.id, JSON.parse(row.shown) as Shown]))
}

export function kindsOfParts(db: Db, actor: Actor): (part: string) => string | undefined {
  const read = db.$client.prepare('SELECT kind FROM parts WHERE id = ? AND household_id = ?').pluck()
  const kinds = new Map<string, string | undefined>()
  return (part) => {
    if (!kinds.has(part)) kinds.set(part, read.get(part, actor.householdId) as string | undefined)
    return kinds.get(part)
  }
}

export function inOrder(rows: readonly EntryRow[]): EntryRow[] {
  return [...rows].sort((a, b) => compare(a.effectiveOn, b.effectiveOn) || compare(a.placeId, b.placeId))
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}

function readJournal(db: Db, actor: Actor, vehicleId: string, lastId: string): Journal {
  const mine = and(eq(entries.vehicleId, vehicleId), eq(entries.householdId, actor.householdId))
  const { shown: _, ...columns } = getTableColumns(entries)
  const found = db
    .select({ entry: columns, author: people.name })
    .from(entries)
    .innerJoin(people, eq(people.id, entries.recordedBy))
    .where(mine)
    .all()
  const changesOf = readChanges(db, actor, vehicleId)
  const correctors = new Map<string, Omit<typeof entries.$inferSelect, 'shown'>[]>()
  for (const { entry } of found) {
    if (entry.correctsId !== null) correctors.set(entry.correctsId, [...(correctors.get(entry.correctsId) ?? []), entry])
  }
  const replacementOf = (id: string): string | null => correctors.get(id)?.find((entry) => entry.correction === 'replaced')?.id ?? null
  const withdrawalOf = (id: string): string | null =>
    correctors.get(id)?.find((entry) => entry.correction === 'withdrawn' && withdrawalOf(entry.id) === null)?.id ?? null
  const rows = inOrder(
    found.map(({ entry, author }) => ({
      ...entry,
      author,
      changes: changesOf.get(entry.id) ?? [],
      withdrawnBy: withdrawalOf(entry.id),
      replacedBy: replacementOf(entry.id),
    })),
  )
  const live = rows.filter((row) => row.correction !== 'withdrawn' && row.withdrawnBy === null && row.replacedBy === null)
  return { rows, byId: new Map(rows.map((row) => [row.id, row])), live, lastId }
}

function readChanges(db: Db, actor: Actor, vehicleId: string): ReadonlyMap<string, Change[]> {
  const rows = db
    .select()
    .from(changes)
    .where(and(eq(changes.vehicleId, vehicleId), eq(changes.householdId, actor.householdId)))
    .orderBy(asc(changes.entryId), asc(changes.position))
    .all()
  const found = new Map<string, Change[]>()
  for (const row of rows) {
    const change = { kind: row.kind, ...(JSON.parse(row.payload) as object) } as Change
    const already = found.get(row.entryId)
    if (already) already.push(change)
    else found.set(row.entryId, [change])
  }
  return found
}
