import type { Component } from '../../engine/vehicle.ts'
import type { PhotoMark, StoredPhoto } from '../../records/photos.ts'
import { dateWords } from '../../web/format.ts'
import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'
import { PAPER, type PhotoCard, photoCard } from '../shared/photo-cards.ts'
import { type Day, trailOf } from '../shared/vehicle-facts.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  readonly id: string
  readonly title: string
  readonly trail: readonly { readonly href: string; readonly label: string }[]
  readonly alt: string
  readonly isShown: boolean
  readonly isMissing: boolean
  readonly isAltered: boolean
  readonly isTrashed: boolean
  readonly notShown: string
  readonly width: number
  readonly height: number
  readonly caption: string
  readonly was: string
  readonly facts: readonly { readonly label: string; readonly value: string }[]
  readonly belongs: readonly { readonly href: string; readonly label: string }[]
  readonly components: readonly Option[]
  /** the form that marks a place on it, as it was typed */
  readonly marking: { readonly isOpen: boolean; readonly x: string; readonly y: string; readonly components: readonly Option[] }
  readonly marks: readonly {
    readonly id: string
    readonly number: number
    readonly name: string
    readonly href: string
    readonly x: number
    readonly y: number
    readonly words: string
  }[]
  readonly mayMark: boolean
}

const SIDE_px = 640
const KINDS: Readonly<Record<string, string>> = {
  'image/jpeg': 'JPEG picture',
  'image/png': 'PNG picture',
  'image/webp': 'WebP picture',
  'image/avif': 'AVIF picture',
  'image/heic': 'HEIC picture',
  'application/pdf': 'PDF paper',
}

export function view(given: {
  readonly photo: StoredPhoto
  readonly marks: readonly PhotoMark[]
  readonly components: readonly Component[]
  readonly vehicleName: string
  readonly entryTitle: string
  readonly partName: string
  readonly original: 'there' | 'missing' | 'altered'
  /** what components are or were called, also those taken out since */
  readonly nameOf: (key: string) => string
  readonly timeZone: string
  readonly faults: readonly ShownFault[]
  /** what was typed and refused */
  readonly typed?: Readonly<Record<string, string>>
}): View {
  const { photo, components, nameOf } = given
  const isMissing = given.original === 'missing'
  const scale = Math.min(1, SIDE_px / Math.max(photo.width_px ?? 1, photo.height_px ?? 1))
  const [width, height] = [Math.round((photo.width_px ?? 0) * scale), Math.round((photo.height_px ?? 0) * scale)]
  const title = photo.caption || (photo.type === PAPER ? 'A paper' : 'A photo')
  const when = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeStyle: 'short', timeZone: given.timeZone })
  const fitted = components.map((one) => one.key)
  const shown = photo.componentKey !== null && !fitted.includes(photo.componentKey) ? [...fitted, photo.componentKey] : fitted
  const choices = shown.map((key) => option(key, nameOf(key), photo.componentKey ?? '')).sort((a, b) => (a.label < b.label ? -1 : 1))
  return {
    faults: given.faults,
    id: photo.id,
    title: title.length > 80 ? `${title.slice(0, 79)}…` : title,
    trail:
      photo.vehicleId !== null
        ? trailOf({ id: photo.vehicleId, name: given.vehicleName }, { href: `/vehicles/${photo.vehicleId}/photos`, label: 'Photos' })
        : [
            { href: '/shelf', label: 'Shelf' },
            ...(photo.partId === null ? [] : [{ href: `/parts/${photo.partId}`, label: given.partName }]),
          ],
    alt: photo.caption || (photo.componentKey === null ? 'Photo without a caption' : `Photo of ${nameOf(photo.componentKey)}`),
    isShown: photo.isShown,
    isMissing,
    isAltered: given.original === 'altered',
    isTrashed: photo.isTrashed,
    notShown:
      photo.type === PAPER
        ? 'A paper: open it to read it.'
        : 'A picture that is kept as it came and cannot be previewed here: the original opens on the device that took it.',
    width,
    height,
    caption: given.typed?.caption ?? photo.caption,
    was: photo.caption,
    facts: [
      { label: 'Sent', value: `${when.format(new Date(photo.recordedAt))} by ${photo.author}` },
      {
        label: 'Kind',
        value: [KINDS[photo.type] ?? photo.type, photo.width_px ? `${photo.width_px} × ${photo.height_px}` : '', sizeOf(photo.bytes)]
          .filter((one) => one !== '')
          .join(', '),
      },
      { label: 'Called', value: photo.fileName || 'nothing' },
    ],
    belongs: [
      ...(photo.entryId === null ? [] : [{ href: `/entries/${photo.entryId}`, label: given.entryTitle || 'Its entry' }]),
      ...(photo.partId === null ? [] : [{ href: `/parts/${photo.partId}`, label: given.partName || 'Its part' }]),
      ...(photo.componentKey === null || photo.vehicleId === null
        ? []
        : [{ href: `/vehicles/${photo.vehicleId}/components/${photo.componentKey}`, label: nameOf(photo.componentKey) }]),
    ],
    components: choices,
    marking: {
      isOpen: ['x', 'y', 'mark'].some((field) => given.faults.some((fault) => fault.field === field)),
      x: given.typed?.x ?? '',
      y: given.typed?.y ?? '',
      components: choices.map((one) => option(one.value, one.label, given.typed?.mark ?? '')),
    },
    marks: given.marks.map((mark, at) => ({
      id: mark.id,
      number: at + 1,
      name: nameOf(mark.componentKey),
      href: `/vehicles/${photo.vehicleId}/components/${mark.componentKey}`,
      x: Math.round(mark.x * width),
      y: Math.round(mark.y * height),
      words: `${Math.round(mark.x * 100)} % from the left, ${Math.round(mark.y * 100)} % from the top`,
    })),
    mayMark: photo.isShown && !isMissing && !photo.isTrashed && components.length > 0,
  }
}

export type GalleryView = { readonly id: string; readonly day: DayView; readonly cards: readonly PhotoCard[]; readonly earlier: string }

export function galleryView(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: Day
  readonly data: string
  readonly photos: readonly StoredPhoto[]
  readonly hasMore: boolean
}): GalleryView {
  return {
    id: given.vehicle.id,
    day: dayView(given.day, { vehicle: given.vehicle, path: `/vehicles/${given.vehicle.id}/photos` }),
    cards: given.photos.map((photo) => ({ ...photoCard(photo, given.data), when: dateWords(photo.recordedAt.slice(0, 10)) })),
    earlier: given.hasMore ? `/vehicles/${given.vehicle.id}/photos${dayQuery(given.day, { before: given.photos.at(-1)?.id ?? '' })}` : '',
  }
}

function sizeOf(bytes: number): string {
  return bytes >= 1_000_000 ? `${(bytes / 1_000_000).toFixed(1)} MB` : `${Math.max(1, Math.round(bytes / 1000))} kB`
}
