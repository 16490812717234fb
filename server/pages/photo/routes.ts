/** Past 200 lines: photos and papers have many addresses: sent to three places, shown, described, marked, thrown away. */
import { constants, createReadStream } from 'node:fs'
import { lstat } from 'node:fs/promises'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import type { Refusal, Result } from '../../records/contract.ts'
import { entryOf } from '../../records/journal.ts'
import { nameOfComponent } from '../../records/life.ts'
import { partOf } from '../../records/parts.ts'
import { photoPath } from '../../records/photo-path.ts'
import {
  describePhoto,
  markPhoto,
  marksOf,
  type PhotoPlace,
  photoOf,
  photosOf,
  type StoredPhoto,
  storePhoto,
  trashPhoto,
  unmarkPhoto,
  untrashPhoto,
} from '../../records/photos.ts'
import { originalIs, pictureOf, type Size } from '../../records/pictures.ts'
import { refusal, refused } from '../../records/refusals.ts'
import { stateOn } from '../../records/state.ts'
import { vehicleOf } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { localPath } from '../../web/session.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { dayFrom, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { galleryView, view } from './view.ts'

const SHOWN = 30
type Params = { readonly id: string; readonly mark: string }

export function register(app: FastifyInstance): void {
  const { data } = app.config
  const photoFrom = (request: FastifyRequest): StoredPhoto => {
    const photo = photoOf(app.db, request.actor, (request.params as Params).id)
    if (!photo) throw new NotFound('There is no such photo here.')
    return photo
  }
  const show = async (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly status: number; readonly typed?: Readonly<Record<string, string>> },
  ) => {
    const photo = photoFrom(request)
    const vehicle = photo.vehicleId === null ? null : vehicleOf(app.db, request.actor, photo.vehicleId)
    const state = vehicle && stateOn(app.db, request.actor, vehicle.id)
    const facts = view({
      photo,
      marks: marksOf(app.db, request.actor, photo.id),
      components: state ? [...state.components.values()] : [],
      entryTitle: photo.entryId === null ? '' : (entryOf(app.db, request.actor, photo.entryId)?.title ?? ''),
      partName: photo.partId === null ? '' : (partOf(app.db, request.actor, photo.partId)?.name ?? ''),
      vehicleName: vehicle?.name ?? '',
      nameOf: (key) => (vehicle && nameOfComponent(app.db, request.actor, vehicle.id, key)) ?? key,
      original: originalIs({ data, ...photo }),
      timeZone: app.config.timeZone,
      ...given,
    })
    return reply.page('photo/show', facts, { title: facts.title, section: 'vehicles', trail: facts.trail, status: given.status })
  }
  /** Each file of a form is a photo. What is wrong with one file is said of that file, and the others are kept. */
  const send = (placeOf: (request: FastifyRequest) => PhotoPlace) => async (request: FastifyRequest, reply: FastifyReply) => {
    const { place, caption, once, faults } = readSending(request, placeOf(request))
    if (faults.length > 0) return refuse(request, reply, { stored: [], lost: faults })
    const stored: StoredPhoto[] = []
    const lost: Lost[] = []
    for (const [at, received] of request.received.entries()) {
      const onceKey = once === '' ? undefined : `${once}-${at}`
      const kept = await storePhoto(app.db, app.clock, request.actor, { ...place, data, received, caption, onceKey })
      if (kept.ok) stored.push(kept.value)
      else lost.push({ name: received.fileName, refusal: kept.refusals[0] as Refusal })
      // Not about the file: it would be said of every one.
      if (!kept.ok && kept.refusals[0]?.field !== 'photo') break
    }
    if (lost.length > 0) return refuse(request, reply, { stored, lost })
    return wantsJson(request) ? reply.status(201).send({ photos: stored.map(asJson) }) : reply.redirect(nextOf(request, stored), 303)
  }
  const refuse = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly stored: readonly StoredPhoto[]; readonly lost: readonly Lost[] },
  ) => {
    const status = given.lost[0]?.refusal.status ?? 422
    const says = lossWords(given)
    if (wantsJson(request))
      return reply.status(status).send({ says, ...(given.stored.length > 0 ? { photos: given.stored.map(asJson) } : {}) })
    if (status === 404) throw new NotFound(says)
    const back = { href: nextOf(request, []), label: 'Back to where it was sent from' }
    const title = given.stored.length > 0 ? 'Not all taken' : 'Not taken'
    return reply.page('error/show', { says, id: request.id, back }, { title, status })
  }
  const idOf = (request: FastifyRequest) => (request.params as Params).id
  const small = (size: Size) => async (request: FastifyRequest, reply: FastifyReply) => {
    const photo = photoFrom(request)
    const path = photo.isShown ? await pictureOf({ data, size, ...photo }) : null
    if (path === null)
      throw new NotFound(
        'This picture cannot be shown: its original is missing, of a kind that is not decoded here, or larger than the server has memory for.',
      )
    return reply
      .header('content-security-policy', "default-src 'none'; sandbox")
      .header('cache-control', 'private, max-age=86400')
      .type('image/webp')
      .send(createReadStream(path))
  }
  const change =
    (act: (request: FastifyRequest, form: FormReader) => Result<unknown>) => async (request: FastifyRequest, reply: FastifyReply) => {
      const form = new FormReader(request.body)
      const done = act(request, form)
      if (done.ok) return reply.redirect(`/photos/${idOf(request)}`, 303)
      if (done.refusals[0]?.status === 404) throw new NotFound('There is no such photo here.')
      const typed = Object.fromEntries(Object.keys(form.body).map((name) => [name, form.typed(name)]))
      return show(request, reply, { faults: refusalFaults(done.refusals), status: done.refusals[0]?.status ?? 422, typed })
    }

  app.get('/vehicles/:id/photos', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { before } = request.query as Record<string, unknown>
    const from = typeof before === 'string' && /^[0-9a-f-]{36}$/.test(before) ? { before } : {}
    const day = dayFrom(app, request)
    const until = day.isToday ? {} : { until: day.on }
    const photos = photosOf(app.db, request.actor, { vehicleId: vehicle.id, limit: SHOWN + 1, ...from, ...until })
    const facts = galleryView({ vehicle, day, data, photos: photos.slice(0, SHOWN), hasMore: photos.length > SHOWN })
    return reply.page('photo/gallery', facts, {
      title: `Photos of ${vehicle.name}`,
      heading: 'Photos',
      section: 'vehicles',
      status: statusOf(day),
      trail: trailOn(vehicle, day),
    })
  })
  app.post(
    '/vehicles/:id/photos',
    send((request) => ({ vehicleId: idOf(request) })),
  )
  app.post(
    '/entries/:id/photos',
    send((request) => ({ entryId: idOf(request) })),
  )
  app.post(
    '/parts/:id/photos',
    send((request) => ({ partId: idOf(request) })),
  )

  app.get('/photos/:id', async (request, reply) => show(request, reply, { faults: [], status: 200 }))
  app.get('/photos/:id/thumbnail', small('thumbnail'))
  app.get('/photos/:id/picture', small('picture'))

  app.get('/photos/:id/original', async (request, reply) => {
    const photo = photoFrom(request)
    const path = photoPath({ data, ...photo })
    const found = await lstat(path).catch(() => null)
    if (!found?.isFile()) throw new NotFound('The original of this photo is missing. A backup may still hold it.')
    return reply
      .header('content-security-policy', "default-src 'none'; sandbox")
      .header('x-content-type-options', 'nosniff')
      .header('content-disposition', disposition(photo))
      .header('content-length', String(found.size))
      .header('cache-control', 'private, no-cache')
      .type(photo.type)
      .send(createReadStream(path, { flags: NO_LINKS }))
  })

  app.post(
    '/photos/:id/captions',
    change((request, form) => {
      const caption = form.text('caption', { max: 500 })
      const componentKey = form.text('component', { max: 80 }) || null
      const was = form.body.was === undefined ? {} : { was: form.typed('was') }
      return form.faults.length > 0 ? faulty(form) : describePhoto(app.db, request.actor, idOf(request), { caption, componentKey, ...was })
    }),
  )
  app.post(
    '/photos/:id/trash',
    change((request) => trashPhoto(app.db, app.clock, request.actor, idOf(request))),
  )
  app.post(
    '/photos/:id/restorations',
    change((request) => untrashPhoto(app.db, request.actor, idOf(request))),
  )

  app.post(
    '/photos/:id/marks',
    change((request, form) => {
      const photo = photoFrom(request)
      const place = placeOn(form, photo)
      const componentKey = form.text('mark', { max: 80, required: 'Choose what is there.' })
      if (place === null && form.faults.length === 0) form.fault('x', 'Say where on the picture it is.')
      if (form.faults.length > 0 || place === null) return faulty(form)
      const done = markPhoto(app.db, app.clock, request.actor, photo.id, { componentKey, ...place })
      return done.ok ? done : refused(done.refusals.map((one) => (one.field === 'component' ? { ...one, field: 'mark' } : one)))
    }),
  )
  app.post(
    '/photos/:id/marks/:mark/removals',
    change((request) => {
      if (!unmarkPhoto(app.db, request.actor, idOf(request), (request.params as Params).mark)) throw new NotFound()
      return { ok: true, value: null }
    }),
  )
}

type Lost = { readonly name: string; readonly refusal: Refusal }

function readSending(request: FastifyRequest, at: PhotoPlace) {
  const form = new FormReader(request.body)
  const [component, caption, once] = [
    form.text('component', { max: 80 }),
    form.text('caption', { max: 500 }),
    form.text('once', { max: 60 }),
  ]
  if (request.received.length === 0) form.fault('photo', 'No file was chosen.')
  const faults: Lost[] = form.faults.map(({ field, says }) => ({ name: '', refusal: refusal('not-valid', says, { field }) }))
  return { place: component === '' ? at : { ...at, componentKey: component }, caption, once, faults }
}

/** One sentence for each file that was not taken, and what became of the rest. */
function lossWords({ stored, lost }: { readonly stored: readonly StoredPhoto[]; readonly lost: readonly Lost[] }): string {
  const isOne = stored.length === 0 && lost.length === 1
  const sentences = lost.map(({ name, refusal: { sentence } }) => (isOne || name === '' ? sentence : `“${name}”: ${sentence}`))
  const rest =
    stored.length === 0 ? 'Nothing was saved.' : stored.length === 1 ? 'The other one was saved.' : `The other ${stored.length} were saved.`
  return [...sentences, ...(sentences.at(-1)?.endsWith(rest) ? [] : [rest])].join(' ')
}

function asJson({ id, fileName }: StoredPhoto) {
  return { id, name: fileName, thumbnail: `/photos/${id}/thumbnail` }
}

/** Where a sender goes on: where the form says, the photo, or the page that the form stood on. */
function nextOf(request: FastifyRequest, stored: readonly StoredPhoto[]): string {
  const { back } = { ...(request.query as object), ...(request.body as object) } as { back?: unknown }
  if (typeof back === 'string' && back !== '') return localPath(back)
  const at = (request.url.split('?')[0] as string).replace(/^(\/(?:entries|parts)\/[^/]+)\/photos$/, '$1')
  return stored[0] ? `/photos/${stored[0].id}` : localPath(at)
}

function faulty(form: FormReader) {
  return refused(form.faults.map(({ field, says }) => refusal('not-valid', says, { field })))
}

/**
 * Typed in percent, or pressed on the picture (in pixels of it as it is shown). What is typed goes first: Enter in a field also counts as a
 * press, at 0, 0; and without a figure such a press says nothing.
 */
function placeOn(form: FormReader, photo: StoredPhoto): { readonly x: number; readonly y: number } | null {
  const [x, y] = [form.number('x', { min: 0, max: 100 }), form.number('y', { min: 0, max: 100 })]
  if (x !== null && y !== null) return { x: x / 100, y: y / 100 }
  const [left, top] = [form.number('at.x', { min: 0, max: SHOWN_px }), form.number('at.y', { min: 0, max: SHOWN_px })]
  const isPressed = x === null && y === null && left !== null && top !== null && left + top > 0
  if (!isPressed || !photo.width_px || !photo.height_px) return null
  const scale = Math.min(1, SHOWN_px / Math.max(photo.width_px, photo.height_px))
  return { x: Math.min(1, left / (photo.width_px * scale)), y: Math.min(1, top / (photo.height_px * scale)) }
}

const NO_LINKS = (constants.O_RDONLY | constants.O_NOFOLLOW) as unknown as string

/** The side that a picture to press on is shown with. */
const SHOWN_px = 640

/** RFC 6266: a plain name for all, and the true one for those that read it. Papers and what is not shown are never opened in place. */
function disposition(photo: StoredPhoto): string {
  const plain =
    photo.fileName
      .normalize('NFKD')
      .replace(/[^\w. -]/g, '_')
      .slice(0, 100) || 'photo'
  const exact = encodeURIComponent(photo.fileName.replace(/[\p{Cc}\p{Cf}/\\]/gu, '_')).replace(
    /['()*]/g,
    (one) => `%${one.charCodeAt(0).toString(16)}`,
  )
  return `${photo.isShown ? 'inline' : 'attachment'}; filename="${plain}"; filename*=UTF-8''${exact}`
}

function wantsJson(request: FastifyRequest): boolean {
  return request.headers.accept?.startsWith('application/json') === true
}
