/** A book on the disk with photos, for trying backups. */
import { createHash } from 'node:crypto'
import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { newId } from '../../server/records/ids.ts'
import { append } from '../../server/records/journal.ts'
import { photoName } from '../../server/records/photo-path.ts'
import { fit, openBook, value } from './book.ts'

export function bookOnDisk(photoTexts: readonly string[] = ['one', 'two', 'three']) {
  const data = mkdtempSync(join(tmpdir(), 'backup-'))
  const book = openBook(join(data, 'loombook.sqlite'))
  value(append(book.db, book.clock, book.actor, book.entry('2026-01-05', [fit('f1', book.part.fuse30), fit('f2', book.part.fuse5)])))
  const photos = photoTexts.map((text) => addPhoto({ ...book, data }, text))
  return { ...book, data, folder: join(data, 'backups'), photos, file: join(data, 'loombook.sqlite') }
}
export type BookOnDisk = ReturnType<typeof bookOnDisk>

export function addPhoto(
  book: Pick<ReturnType<typeof openBook>, 'db' | 'clock' | 'actor' | 'vehicleId'> & { data: string },
  text: string,
): string {
  const sha256 = createHash('sha256').update(text).digest('hex')
  const name = photoName({ sha256, type: 'image/jpeg' })
  mkdirSync(dirname(join(book.data, name)), { recursive: true })
  writeFileSync(join(book.data, name), text)
  const { householdId, personId } = book.actor
  book.db.$client
    .prepare(
      'INSERT INTO photos (id, household_id, vehicle_id, sha256, type, bytes, file_name, caption, recorded_at, recorded_by) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
    )
    .run(newId(book.clock), householdId, book.vehicleId, sha256, 'image/jpeg', Buffer.byteLength(text), 'a.jpg', '', 'x', personId)
  return name
}
