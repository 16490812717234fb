/** A job as the log form sends it: its entry, a part that was named on the spot, and photos sent ahead: all of it is stored, or nothing. */
import type { ProvisionalPart } from './chain.ts'
import type { Clock } from './clock.ts'
import type { Actor, NewEntry, Result, SavedEntry } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { previewExpanded, recordExpanded, savedOnce, type TriedChain } from './journal.ts'
import { attachPhotos } from './photos.ts'
import { done } from './refusals.ts'

/** Changes name a new part by its provisional id. */
export type Job = NewEntry & { readonly newParts: readonly ProvisionalPart[]; readonly photoIds: readonly string[] }

export function recordJob(db: Db, clock: Clock, actor: Actor, job: Job): Result<SavedEntry> {
  const { changes, newParts, photoIds, ...heading } = job
  return inTransaction(db, () => {
    const already = savedOnce(db, actor, job.onceKey)
    if (already) return done(already)
    const saved = recordExpanded(db, clock, actor, heading, () => ({ ok: true, changes, newParts }))
    if (!saved.ok || photoIds.length === 0) return saved
    const attached = attachPhotos(db, actor, { photoIds, entryId: saved.value.id })
    return attached.ok ? saved : attached
  })
}

export function previewJob(db: Db, actor: Actor, job: Job): Result<TriedChain> {
  const { changes, newParts, photoIds: _, ...heading } = job
  return previewExpanded(db, actor, heading, () => ({ ok: true, changes, newParts }))
}
