/** Photos and papers as lists print them. */
import type { StoredPhoto } from '../../records/photos.ts'
import { originalIs } from '../../records/pictures.ts'

export const PAPER = 'application/pdf'

export type PhotoCard = {
  readonly id: string
  readonly label: string
  readonly isShown: boolean
  readonly kind: string
  readonly width: number
  readonly height: number
  readonly when: string
}

const SIDE_px = 160

/** `data`: the folder that holds the originals. One that is gone is named so, and no broken picture stands in its place. */
export function photoCard(photo: StoredPhoto, data: string): PhotoCard {
  const isMissing = originalIs({ data, ...photo }) === 'missing'
  const scale = Math.min(1, SIDE_px / Math.max(photo.width_px ?? 1, photo.height_px ?? 1))
  return {
    id: photo.id,
    label: photo.caption || photo.fileName || 'without a caption',
    isShown: photo.isShown && !isMissing,
    kind: isMissing ? 'The original is missing' : photo.type === PAPER ? 'Paper (PDF)' : 'Picture, not previewed here',
    width: Math.max(1, Math.round((photo.width_px ?? SIDE_px) * scale)),
    height: Math.max(1, Math.round((photo.height_px ?? SIDE_px) * scale)),
    when: '',
  }
}
