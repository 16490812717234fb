/** Pieces of wire or hose that are left, with their lengths. */
import { and, eq, isNull } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { newId } from './ids.ts'
import { partsById } from './part-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { leftovers } from './schema.ts'

export type Leftover = { readonly id: string; readonly length_m: number; readonly place: string; readonly recordedAt: string }

const byLength: readonly string[] = ['conductor', 'hose']

export function isSoldByLength(kind: string): boolean {
  return byLength.includes(kind)
}

export function keepLeftover(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly partId: string; readonly length_m: number; readonly place: string },
): Result<{ id: string }> {
  const wrong = wrongLength(given.length_m)
  if (wrong) return refused([wrong])
  if (given.place.length > 200) return refused([refusal('not-valid', 'Keep the place under 200 letters.', { field: 'place' })])
  return inTransaction(db, () => {
    const part = partsById(db, actor).get(given.partId)
    if (!part) return refused([refusal('not-found', 'There is no such part.')])
    if (!isSoldByLength(part.kind)) return refused([refusal('not-valid', 'Only wire and hose are kept by length.', { field: 'length_m' })])
    const id = newId(clock)
    const recorded = { recordedAt: clock.now().toISOString(), recordedBy: actor.personId }
    db.insert(leftovers)
      .values({ id, householdId: actor.householdId, partId: part.id, length_m: given.length_m, place: given.place.trim(), ...recorded })
      .run()
    return done({ id })
  })
}

/** What is left of it now: shorter than before, or nothing. */
export function cutLeftover(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly partId: string; readonly leftoverId: string; readonly length_m: number },
): Result<null> {
  return inTransaction(db, () => {
    const { partId, leftoverId, length_m } = given
    const mine = and(eq(leftovers.id, leftoverId), eq(leftovers.partId, partId), eq(leftovers.householdId, actor.householdId))
    const row = db
      .select()
      .from(leftovers)
      .where(and(mine, isNull(leftovers.usedAt)))
      .get()
    if (!row) return refused([refusal('not-found', 'There is no such piece any more.')])
    const wrong = length_m === 0 ? null : wrongLength(length_m)
    if (wrong) return refused([wrong])
    if (length_m > row.length_m)
      return refused([
        refusal('not-valid', `It was ${row.length_m} m; a piece does not grow. Keep another piece instead.`, { field: 'length_m' }),
      ])
    const next = length_m === 0 ? { usedAt: clock.now().toISOString() } : { length_m }
    db.update(leftovers).set(next).where(mine).run()
    return done(null)
  })
}

/** The longest first. */
export function leftoversOf(db: Db, actor: Actor, partId: string): { readonly pieces: readonly Leftover[]; readonly total_m: number } {
  const pieces = db
    .select({ id: leftovers.id, length_m: leftovers.length_m, place: leftovers.place, recordedAt: leftovers.recordedAt })
    .from(leftovers)
    .where(and(eq(leftovers.partId, partId), eq(leftovers.householdId, actor.householdId), isNull(leftovers.usedAt)))
    .all()
    .sort((a, b) => b.length_m - a.length_m || (a.id < b.id ? -1 : 1))
  return { pieces, total_m: Math.round(pieces.reduce((sum, piece) => sum + piece.length_m, 0) * 1000) / 1000 }
}

/** What is left of every part, for the list of the shelf. */
export function leftoverTotals(db: Db, actor: Actor): ReadonlyMap<string, number> {
  const sql =
    'SELECT part_id AS part, round(sum(length_m), 3) AS total FROM leftovers WHERE household_id = ? AND used_at IS NULL GROUP BY part_id'
  const rows = db.$client.prepare(sql).all(actor.householdId) as { part: string; total: number }[]
  return new Map(rows.map((row) => [row.part, row.total]))
}

function wrongLength(length_m: number) {
  return length_m > 0 && length_m <= 10_000
    ? null
    : refusal('not-valid', 'Give a length above 0 m and up to 10 000 m.', { field: 'length_m' })
}
