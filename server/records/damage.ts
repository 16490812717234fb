/** Damage that this process met, in memory: a damaged file may not take the note of its own damage. */
import type { Db } from './database.ts'

const seen = new WeakMap<Db, string>()

/** From now on nothing is written, until a later look finds all in order. `says` is what is damaged; what was noted first stays. */
export function noteDamage(db: Db, says: string): void {
  if (!seen.has(db)) seen.set(db, says)
}

export function notedDamage(db: Db): string | null {
  return seen.get(db) ?? null
}

/** After a look that found nothing. */
export function forgetDamage(db: Db): void {
  seen.delete(db)
}

/** Whether a fault is the database's word for a damaged file, not for anything that was asked of it. */
export function isDamage(fault: unknown): boolean {
  return /^SQLITE_(CORRUPT|NOTADB|IOERR_SHORT_READ)/.test(String((fault as { code?: unknown } | null)?.code))
}
