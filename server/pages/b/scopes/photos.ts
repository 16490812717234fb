/** Photos, made anew without anything a camera wrote into them, under neutral names. */
import { photosFor } from '../../../records/build-page.ts'
import { pageOf } from '../../shared/paging.ts'
import { defineScope } from '../scope.ts'

export type View = {
  readonly count: string
  readonly earlier: { readonly href: string }
  readonly later: { readonly href: string }
  readonly photos: readonly {
    readonly src: string
    readonly href: string
    readonly width: number
    readonly height: number
    readonly label: string
    readonly note: string
  }[]
}

const PER_PAGE = 24
const SIDE_px = 320

export const photos = defineScope({
  id: 'photos',
  title: 'Photos',
  says: 'the photos that are here now, without place, camera or file name; papers and receipts sent as PDF stay out',
  presets: ['buyer', 'workshop'],
  template: '/b/photos',
  view({ db, share, link, query }): View {
    const { shown, count, before, after } = pageOf(photosFor(db, share), {
      asked: query.page,
      things: ['photo', 'photos'],
      address: (page) => link('photos', { page: String(page) }),
      perPage: PER_PAGE,
    })
    return {
      count,
      earlier: { href: before },
      later: { href: after },
      photos: shown.map(({ number, width_px, height_px, caption, component }) => {
        const scale = Math.min(1, SIDE_px / Math.max(width_px, height_px, 1))
        return {
          src: link(`p/small-${number}.jpg`),
          href: link(`p/photo-${number}.jpg`),
          width: Math.max(1, Math.round((width_px || SIDE_px) * scale)),
          height: Math.max(1, Math.round((height_px || SIDE_px) * scale)),
          label: caption || component || `Photo ${number}`,
          note: caption !== '' && component !== '' ? component : '',
        }
      }),
    }
  },
})
