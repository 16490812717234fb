import type { Backup } from '../../records/backup.ts'
import { type BackupChoice, choicesOf } from '../shared/backup-words.ts'
import type { ShownFault } from '../shared/faults.ts'

/** The one page there is while the database cannot be opened. */
export type ShutView = { readonly faults: readonly ShownFault[]; readonly backups: readonly BackupChoice[] }

export function shutView(given: {
  readonly faults: readonly string[]
  readonly backups: readonly Backup[]
  readonly timeZone: string
}): ShutView {
  return {
    faults: given.faults.map((says) => ({ field: '', label: '', says, link: '' })),
    backups: choicesOf(given.backups, given.timeZone),
  }
}
