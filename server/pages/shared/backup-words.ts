/** How pages speak of a backup. */
import { type Backup, megabytes } from '../../records/backup.ts'

export function holds({ bytes, manifest }: Pick<Backup, 'bytes' | 'manifest'>): string {
  return `${megabytes(bytes)}, ${manifest.rows.entries ?? 0} entries, ${manifest.photos.length} photos and papers`
}

export function whenIn(timeZone: string): (instant: string) => string {
  const format = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short', timeZone })
  return (instant) => format.format(new Date(instant))
}

/** A backup as a form offers it, the newest chosen. */
export type BackupChoice = { readonly name: string; readonly when: string; readonly holds: string; readonly isFirst: boolean }

export function choicesOf(backups: readonly Backup[], timeZone: string): readonly BackupChoice[] {
  const when = whenIn(timeZone)
  return backups.map((one, n) => ({ name: one.name, when: when(one.manifest.made_at), holds: holds(one), isFirst: n === 0 }))
}
