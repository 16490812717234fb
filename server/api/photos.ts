/** Photos and papers: the original as it was sent, and a picture with nothing in it but the picture. */
import { constants, createReadStream } from 'node:fs'
import { photoPath } from '../records/photo-path.ts'
import type { StoredPhoto } from '../records/photos.ts'
import { photoOf } from '../records/photos.ts'
import { isThere, pictureOf } from '../records/pictures.ts'
import { type Asked, operation } from './operation.ts'
import { notFound, Problem } from './problem.ts'

const EXAMPLE = '0190a000-0000-7000-8000-000000000001'
const NO_LINKS = (constants.O_RDONLY | constants.O_NOFOLLOW) as unknown as string

export const photoOperations = [
  operation({
    id: 'readOriginal',
    method: 'GET',
    path: '/photos/:id/original',
    summary: 'The file as it was sent',
    about: 'With all that the camera noted in it, which may be where it was taken.',
    writes: false,
    example: `/api/photos/${EXAMPLE}/original`,
    status: 200,
    answer: ['image/jpeg', 'image/png', 'image/webp', 'image/avif', 'image/heic', 'application/pdf'],
    handle: async (asked) => {
      const photo = photoFrom(asked)
      const path = photoPath({ data: asked.app.config.data, ...photo })
      if (!(await isThere(path))) throw new Problem('not-found', 'The original of this photo is missing. A backup may still hold it.')
      return file(asked, { path, type: photo.type })
    },
  }),
  operation({
    id: 'readPicture',
    method: 'GET',
    path: '/photos/:id/picture',
    summary: 'A small picture, at most 1600 points a side',
    about: 'It holds nothing of what the camera noted.',
    writes: false,
    makesFile: true,
    example: `/api/photos/${EXAMPLE}/picture`,
    status: 200,
    answer: ['image/webp'],
    handle: async (asked) => {
      const photo = photoFrom(asked)
      const path = photo.isShown ? await pictureOf({ data: asked.app.config.data, ...photo, size: 'picture' }) : null
      if (path === null) throw new Problem('not-found', 'There is no picture of this one.')
      return file(asked, { path, type: 'image/webp' })
    },
  }),
]

/** What is told of a photo. */
export function photoAnswer(photo: StoredPhoto) {
  const { isShown, isTrashed: _trashed, ...told } = photo
  return { ...told, original: `/api/photos/${photo.id}/original`, picture: isShown ? `/api/photos/${photo.id}/picture` : null }
}

/** What is in the trash is not there for programs. */
function photoFrom({ app, actor, id }: Asked<unknown, unknown>): StoredPhoto {
  const photo = photoOf(app.db, actor, id)
  if (!photo || photo.isTrashed) throw notFound('photo')
  return photo
}

function file({ reply, id }: Asked<unknown, unknown>, given: { readonly path: string; readonly type: string }) {
  return reply
    .header('content-security-policy', "default-src 'none'; sandbox")
    .header('content-disposition', `attachment; filename="${id}.${given.type.split('/')[1]}"`)
    .header('cache-control', 'private, no-cache')
    .type(given.type)
    .send(createReadStream(given.path, { flags: NO_LINKS }))
}
