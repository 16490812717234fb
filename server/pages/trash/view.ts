import type { trashOf } from '../../records/trash.ts'
import { photosKept_days } from '../../records/trash.ts'
import { dateWords, instantWords } from '../../web/format.ts'
import { counted } from '../shared/tried.ts'

export type View = {
  readonly lead: string
  readonly kept: string
  readonly entries: readonly { readonly id: string; readonly title: string; readonly facts: string; readonly gone: string }[]
  readonly photos: readonly {
    readonly id: string
    readonly words: string
    readonly facts: string
    readonly gone: string
    readonly left: string
  }[]
}

export function view(trash: ReturnType<typeof trashOf>, timeZone: string): View {
  const { entries, photos } = trash
  return {
    lead:
      entries.length + photos.length === 0
        ? 'Nothing is in the trash.'
        : `${counted(entries.length, 'withdrawn entry').replace('entrys', 'entries').replace(/^0 .*/, 'No withdrawn entry')}, ${photos.length === 0 ? 'no photo' : counted(photos.length, 'photo')}.`,
    kept: `Entries stay here for good. A photo’s picture is kept for ${photosKept_days} days after it was thrown away; after that it cannot be brought back. Parts are never thrown away.`,
    entries: entries.map((entry) => ({
      id: entry.id,
      title: entry.title,
      facts: `${entry.vehicleName}, ${dateWords(entry.effectiveOn)}`,
      gone: `withdrawn ${instantWords(entry.withdrawnAt, timeZone)}, ${entry.withdrawnBy}`,
    })),
    photos: photos.map((photo) => ({
      id: photo.id,
      words: photo.words,
      facts: [photo.vehicleName ?? '', `added by ${photo.addedBy}`].filter((one) => one !== '').join(', '),
      gone: `thrown away ${instantWords(photo.trashedAt, timeZone)}`,
      left: photo.left_days === 0 ? 'its picture may be gone by now' : `${counted(photo.left_days, 'day')} left`,
    })),
  }
}
