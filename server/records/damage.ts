/** Damage that this process met, and a disk without room. Damage is held in memory: a damaged file may not take the note of its own damage. */
import type { Db } from './database.ts'

const seen = new WeakMap<Db, string>()

/** A row that is not as it was written was met by a change: the change is not made. */
export class AlteredRow extends Error {}

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

/** Whether a fault is the database's word for a damaged file, or a row's that was altered, not for anything that was asked of it. */
export function isDamage(fault: unknown): boolean {
  return fault instanceof AlteredRow || /^SQLITE_(CORRUPT|NOTADB|IOERR_SHORT_READ)/.test(String((fault as { code?: unknown } | null)?.code))
}

/** What is told of a fault that is damage. */
export function damageWords(fault: unknown): string {
  return `The database file cannot be read everywhere: ${(fault as Error).message}.`
}

/** Whether a fault says that there is no room on the disk. */
export function isFull(fault: unknown): boolean {
  return ['SQLITE_FULL', 'ENOSPC', 'EDQUOT'].includes(String((fault as { code?: unknown } | null)?.code))
}

/** Whether a fault says that the disk did not take a write or a flush, or there is no room on it. */
function isNotTaken(fault: unknown): boolean {
  return isFull(fault) || /^SQLITE_IOERR_(WRITE|FSYNC|DIR_FSYNC|TRUNCATE)$/.test(String((fault as { code?: unknown } | null)?.code))
}

/** Whether a fault says that the file is held by another program. */
export function isInUse(fault: unknown): boolean {
  return /^SQLITE_(BUSY|LOCKED)/.test(String((fault as { code?: unknown } | null)?.code))
}

/** Whether a fault says that the file is held by another program, or may not be written. */
function isShut(fault: unknown): boolean {
  return isInUse(fault) || /^SQLITE_READONLY/.test(String((fault as { code?: unknown } | null)?.code))
}

/** For what is noted beside reading: a disk that takes no write, a file that is held or damaged are no reason not to read. Whether it was noted. */
export function noteBeside(work: () => void): boolean {
  try {
    work()
    return true
  } catch (fault) {
    if (!isNotTaken(fault) && !isShut(fault) && !isDamage(fault)) throw fault
    return false
  }
}
