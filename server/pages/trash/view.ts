import { photosKept_days, type Trash } from '../../records/trash.ts'
import { dateWords, instantWords } from '../../web/format.ts'
import type { Span } from '../shared/paging.ts'
import { counted } from '../shared/tried.ts'

export type View = {
  readonly lead: string
  readonly kept: string
  /** which page of each list this is; empty where the list is on one page */
  readonly entryPage: Turn
  readonly photoPage: Turn
  readonly entries: readonly { readonly id: string; readonly title: string; readonly facts: string; readonly gone: string }[]
  readonly photos: readonly {
    readonly id: string
    readonly words: string
    readonly facts: string
    readonly gone: string
    readonly left: string
  }[]
}

type Turn = { readonly count: string; readonly before: string; readonly after: string }

export function view(given: { readonly trash: Trash; readonly entries: Span; readonly photos: Span }, timeZone: string): View {
  const { entries, photos, entryCount, photoCount } = given.trash
  return {
    lead:
      entryCount + photoCount === 0
        ? 'Nothing is in the trash.'
        : `${entryCount === 0 ? 'No withdrawn entry' : counted(entryCount, 'withdrawn entry').replace('entrys', 'entries')}, ${photoCount === 0 ? 'no photo' : counted(photoCount, 'photo')}.`,
    entryPage: turnOf(given.entries),
    photoPage: turnOf(given.photos),
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

function turnOf({ count, before, after }: Span): Turn {
  return { count: before === '' && after === '' ? '' : count, before, after }
}
