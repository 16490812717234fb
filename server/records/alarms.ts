/** What everybody, or an owner, has to know whatever page they are on. */
import { eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Db } from './database.ts'
import { STALE_ms } from './jobs.ts'
import { damageOf } from './sanity.ts'
import { households, jobs } from './schema.ts'

/** Why the last good backup is too long ago, in a sentence; null where it is not. A house younger than that need not have one yet. */
export function lateBackup(db: Db, clock: Clock): string | null {
  const row = db.select().from(jobs).where(eq(jobs.name, 'backup')).get()
  if (row?.result === 'failed') return `The last backup did not succeed. ${row.says.slice(0, 200)}`
  // When it was begun says nothing: a run that is killed every night begins every night.
  const since = row?.lastGoodAt ?? db.select().from(households).get()?.recordedAt
  const age_ms = since === undefined ? 0 : clock.now().getTime() - Date.parse(since)
  if (!(age_ms > STALE_ms)) return null
  if (row === undefined) return 'There is no backup yet.'
  // Its first good run may lie before what is kept of it.
  return row.lastGoodAt ? `The last good backup is ${Math.floor(age_ms / 3_600_000)} hours old.` : 'No good backup is known of.'
}

/** Damage first: it shuts the house. */
export function alarmOf(db: Db, clock: Clock): { readonly kind: 'damage' | 'backup'; readonly says: string } | null {
  try {
    if (damageOf(db) !== null)
      return { kind: 'damage', says: 'Records here are damaged: nothing is saved until a good backup is restored.' }
    const late = lateBackup(db, clock)
    return late === null ? null : { kind: 'backup', says: late }
  } catch {
    // A page that tells of a fault is printed where the database answers nothing any more.
    return null
  }
}
