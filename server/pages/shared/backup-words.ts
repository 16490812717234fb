/** How pages speak of a backup. */
import { type Backup, megabytes } from '../../records/backup.ts'

export function holds({ bytes, manifest }: Pick<Backup, 'bytes' | 'manifest'>): string {
  return `${megabytes(bytes)}, ${manifest.rows.entries ?? 0} entries, ${manifest.photos.length} photos and papers`
}

export function whenIn(timeZone: string): (instant: string) => string {
  const format = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short', timeZone })
  return (instant) => format.format(new Date(instant))
}
