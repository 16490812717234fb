/**
 * Build pages as strangers meet them, under `/b/<token>`: a tree of its own that only reads. It knows no person, reads and sets no cookie,
 * and whatever it does not show it answers with the very same words, so that nobody learns which addresses there were.
 */
import { createReadStream } from 'node:fs'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { photoSourceFor } from '../../records/build-page.ts'
import { isDamage, isFull, isInUse } from '../../records/damage.ts'
import { bareJpegOf, type Size } from '../../records/pictures.ts'
import { type OpenShare, openShare } from '../../records/shares.ts'
import { retryAfter_s, told } from '../../web/faults.ts'
import { absolute } from '../../web/site.ts'
import { todayOf } from '../shared/vehicle-facts.ts'
import { AddressLimits } from './address-limits.ts'
import { buildPage } from './render.ts'

/** In a quarter of an hour, from one address: a whole build page with its photos many times over, and few wrong tokens. */
const MOST = { asked: 3000, missed: 60 }
const POLICY = "default-src 'none'; sandbox"
const PHOTO = /^(photo|small)-([1-9]\d{0,5})\.jpg$/

export async function buildPages(app: FastifyInstance): Promise<void> {
  app.get('/robots.txt', async (_request, reply) => reply.type('text/plain; charset=utf-8').send('User-agent: *\nDisallow: /b/\n'))
  await app.register(tree, { prefix: '/b' })
}

async function tree(app: FastifyInstance): Promise<void> {
  const limits = new AddressLimits(() => app.clock.now(), MOST)
  app.addHook('onRequest', async (request, reply) => {
    if (!limits.mayAsk(request.ip)) return tooOften(reply)
    if (request.method !== 'GET' && request.method !== 'HEAD') return nothingHere(reply)
  })
  app.addHook('onSend', async (_request, reply) => {
    reply.header('referrer-policy', 'no-referrer').header('x-robots-tag', 'noindex, nofollow').header('cache-control', 'private, no-store')
  })
  app.setNotFoundHandler(async (request, reply) => missed(request, reply))
  app.setErrorHandler(async (error: Error & { statusCode?: number }, request, reply) => {
    if ((error.statusCode ?? 500) < 500) return nothingHere(reply)
    request.log.error(error)
    const { status } = told(error, { isFull, isDamage, isInUse })
    const after_s = retryAfter_s(status)
    if (after_s !== null) reply.header('retry-after', after_s)
    return reply.status(status).type('text/plain; charset=utf-8').send('Something went wrong on our side. Try again later.\n')
  })
  const missed = (request: FastifyRequest, reply: FastifyReply) => {
    limits.missed(request.ip)
    return nothingHere(reply)
  }
  const show = async (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly token: string; readonly share: OpenShare; page: string },
  ) => {
    const { token, share, page } = given
    const link = (to: string, more: Readonly<Record<string, string>> = {}) => {
      const asked = new URLSearchParams(more).toString()
      return `/b/${token}${to === '' ? '' : `/${to}`}${asked === '' ? '' : `?${asked}`}`
    }
    const query = request.query as Readonly<Record<string, unknown>>
    const origin = absolute(request, '')
    const made = await buildPage({ db: app.db, drawings: app.drawings, share, today: todayOf(app), link, query }, page, { origin })
    return made ? reply.page(made.template, made.view, { title: made.title, styles: made.styles }) : missed(request, reply)
  }
  const sendPhoto = async (request: FastifyRequest, reply: FastifyReply, given: { readonly share: OpenShare; readonly file: string }) => {
    const { share, file } = given
    const picture = share.shows.pages.includes('photos') ? await bareFile(app, share, file) : null
    if (picture === null) return missed(request, reply)
    return reply
      .header('content-security-policy', POLICY)
      .header('content-disposition', `inline; filename="${file}"`)
      .type('image/jpeg')
      .send(createReadStream(picture))
  }

  // One pattern for all, since a router refuses a piece that is too long with words of its own.
  app.get('/*', async (request, reply) => {
    const [token = '', page = '', file, ...more] = (request.params as { '*': string })['*'].split('/')
    // The token is looked up before anything else of the address is, so that all wrong addresses cost the same.
    const share = openShare(app.db, app.clock, token)
    if (!share || more.length > 0) return missed(request, reply)
    if (file === undefined) return show(request, reply, { token, share, page })
    return page === 'p' ? sendPhoto(request, reply, { share, file }) : missed(request, reply)
  })
}

/** The path of a photo made bare; null for a name that is none, and for a photo that this link does not show. */
export async function bareFile(app: FastifyInstance, share: OpenShare, file: string): Promise<string | null> {
  const [, kind, number] = PHOTO.exec(file) ?? []
  const source = number === undefined ? null : photoSourceFor(app.db, share, Number(number))
  const size: Size = kind === 'small' ? 'thumbnail' : 'picture'
  return source === null ? null : bareJpegOf({ data: app.config.data, ...source, size })
}

const NOTHING = `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>Nothing here · Loombook</title>
<link rel="stylesheet" href="/static/app.css">
<link rel="icon" href="data:,">
</head>
<body>
<main>
<h1>Nothing is shown at this address</h1>
<p>It may be mistyped or cut short, or its time may be over. Ask whoever gave it to you for a new one.</p>
</main>
</body>
</html>
`

function nothingHere(reply: FastifyReply): FastifyReply {
  return reply.status(404).type('text/html; charset=utf-8').send(NOTHING)
}

function tooOften(reply: FastifyReply): FastifyReply {
  return reply
    .status(429)
    .header('retry-after', '900')
    .type('text/plain; charset=utf-8')
    .send('Too many questions from this address. Try again in a quarter of an hour.\n')
}
