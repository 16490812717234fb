/** Who said what of a part, and when: its revisions with their authors, and whether a form was typed on the one in force. */
import { and, eq, sql } from 'drizzle-orm'
import type { Actor, Refusal } from './contract.ts'
import type { Db } from './database.ts'
import type { Part } from './engine-types.ts'
import { partsById } from './part-rows.ts'
import { refusal } from './refusals.ts'
import { partRevisions, people } from './schema.ts'

export type RevisionMark = { readonly id: string; readonly recordedAt: string; readonly author: string }

/** Oldest first. */
export function revisionMarksOf(db: Db, actor: Actor, partId: string): readonly RevisionMark[] {
  return db
    .select({ id: partRevisions.id, recordedAt: partRevisions.recordedAt, author: people.name })
    .from(partRevisions)
    .innerJoin(people, eq(people.id, partRevisions.recordedBy))
    .where(and(eq(partRevisions.partId, partId), eq(partRevisions.householdId, actor.householdId)))
    .orderBy(sql`part_revisions.rowid`)
    .all()
}

/**
 * `same`: the figures in force are these very ones, so there is nothing to add. A refusal: others were put in force since the form was
 * opened on `basedOn`.
 */
export function revisedMeanwhile(
  db: Db,
  actor: Actor,
  partId: string,
  given: { readonly basedOn: string; readonly next: Pick<Part, 'name' | 'ratings' | 'evidence'> & { readonly notes?: string | undefined } },
): 'same' | Refusal | null {
  const last = partsById(db, actor).get(partId)?.revisions.at(-1)
  if (!last || last.id === given.basedOn) return null
  if (told(last) === told(given.next)) return 'same'
  const by = revisionMarksOf(db, actor, partId).at(-1)?.author ?? 'somebody'
  return refusal('changed-meanwhile', `${by} changed these figures while this form was open. Nothing of theirs is overwritten.`)
}

function told(one: {
  readonly name: string
  readonly ratings: object
  readonly evidence?: object | undefined
  readonly notes?: string | undefined
}): string {
  const sorted = (record: object) => Object.entries(record).sort(([a], [b]) => (a < b ? -1 : 1))
  return JSON.stringify([one.name.trim(), sorted(one.ratings), sorted(one.evidence ?? {}), one.notes ?? ''])
}
