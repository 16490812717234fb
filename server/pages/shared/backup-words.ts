/** How pages speak of a backup. */
import { type Backup, megabytes } from '../../records/backup.ts'

export function holds({ bytes, contents }: Pick<Backup, 'bytes' | 'contents'>): string {
  return `${megabytes(bytes)}, ${contents.rows.entries ?? 0} entries, ${contents.photos} photos and papers`
}

export function whenIn(timeZone: string): (instant: string) => string {
  const format = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short', timeZone })
  return (instant) => format.format(new Date(instant))
}

/** A backup as a form offers it, the newest chosen. */
export type BackupChoice = { readonly name: string; readonly when: string; readonly holds: string; readonly isFirst: boolean }

export function choicesOf(backups: readonly Backup[], timeZone: string): readonly BackupChoice[] {
  const when = whenIn(timeZone)
  return backups.map((one, n) => ({ name: one.name, when: when(one.contents.made_at), holds: holds(one), isFirst: n === 0 }))
}
