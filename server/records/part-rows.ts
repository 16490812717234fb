/** Reads parts with their latest revision. */
import { createHash } from 'node:crypto'
import { and, eq, sql } from 'drizzle-orm'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import type { Grade, Part, Ratings } from './engine-types.ts'
import { partRevisions, parts } from './schema.ts'

export type PartRevision = {
  readonly id: string
  readonly name: string
  readonly ratings: Ratings
  readonly evidence: Readonly<Record<string, Grade>>
  readonly notes: string
  readonly recordedAt: string
}
export type PartRow = Part & { readonly id: string; readonly recordedAt: string; readonly revisions: readonly PartRevision[] }

type Kept = { readonly lastId: string; readonly rows: ReadonlyMap<string, PartRow> }
const kept = new WeakMap<Db, Map<string, Kept>>()

/** By id, in the order recorded, oldest revision first. Kept in memory: revisions never change. */
export function partsById(db: Db, actor: Actor): ReadonlyMap<string, PartRow> {
  const mine = kept.get(db) ?? new Map<string, Kept>()
  kept.set(db, mine)
  const lastId = lastRevisionId(db, actor)
  const before = mine.get(actor.householdId)
  if (before && before.lastId === lastId) return before.rows
  const rows = readParts(db, actor)
  mine.set(actor.householdId, { lastId, rows })
  return rows
}

export function lastRevisionId(db: Db, actor: Actor): string {
  const last = "SELECT coalesce(max(id), '') || ' ' || count(*) FROM part_revisions WHERE household_id = ?"
  return String(db.$client.prepare(last).pluck().get(actor.householdId))
}

/** Of the revisions now in force of these parts. */
export function digestOfParts(rows: ReadonlyMap<string, PartRow>, ids: readonly string[]): string {
  const hash = createHash('sha256')
  for (const id of [...ids].sort()) hash.update(`${id} ${rows.get(id)?.revisions.at(-1)?.id ?? ''}\n`)
  return hash.digest('hex')
}

function readParts(db: Db, actor: Actor): ReadonlyMap<string, PartRow> {
  const found = db
    .select({ part: parts, revision: partRevisions })
    .from(partRevisions)
    .innerJoin(parts, and(eq(parts.id, partRevisions.partId), eq(parts.householdId, partRevisions.householdId)))
    .where(eq(partRevisions.householdId, actor.householdId))
    .orderBy(sql`part_revisions.rowid`)
    .all()
  const rows = new Map<string, PartRow>()
  for (const { part, revision } of found) {
    const { id, name, notes, recordedAt } = revision
    const next: PartRevision = {
      id,
      name,
      notes,
      recordedAt,
      ratings: JSON.parse(revision.ratings) as Ratings,
      evidence: JSON.parse(revision.evidence) as Record<string, Grade>,
    }
    const revisions = [...(rows.get(part.id)?.revisions ?? []), next]
    rows.set(part.id, {
      key: part.id,
      id: part.id,
      kind: part.kind,
      name,
      ratings: next.ratings,
      evidence: next.evidence,
      recordedAt: part.recordedAt,
      revisions,
    })
  }
  return rows
}
