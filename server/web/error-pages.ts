/** One place for what went wrong: a refusal in plain words, or a fault with its request id. */
import plugin from 'fastify-plugin'
import { retryAfter_s, type Signs, told } from './faults.ts'

export const errorPages = plugin<Signs>(async (app, signs) => {
  app.setErrorHandler(async (error: Error & { statusCode?: number; code?: string }, request, reply) => {
    const { sort, status, says: words } = told(error, signs)
    if (status >= 500) request.log.error(error)
    const after_s = retryAfter_s(status)
    if (after_s !== null) reply.header('retry-after', after_s)
    const says = (sort === 'refused' && SAYS[error.code ?? '']) || words
    if (request.headers.accept?.startsWith('application/json')) return reply.status(status).send({ says })
    // A piece asked for by itself is answered as a piece: the page around it, and what was typed there, stays.
    if (request.headers['hx-request'] === 'true') return reply.fragment('error/_piece', { says, id: request.id }, { status })
    return reply.page(
      'error/show',
      { says, id: request.id, back: HOME },
      { title: status === 403 ? 'Not done' : status === 404 ? 'Not found' : 'That did not work', status },
    )
  })
  app.setNotFoundHandler(async (request, reply) =>
    reply.page(
      'error/show',
      { says: 'There is nothing at this address.', id: request.id, back: HOME },
      { title: 'Not found', status: 404 },
    ),
  )
})

/** Where an error’s page leads where nothing nearer is known. */
export const HOME = { href: '/', label: 'Back to the vehicles' }

const SAYS: Readonly<Record<string, string>> = {
  FST_ERR_BAD_URL: 'This address cannot be read: a % in it is not followed by two hexadecimal digits.',
  FST_ERR_CTP_INVALID_MEDIA_TYPE: 'This is not a form. Nothing was saved.',
  FST_ERR_CTP_BODY_TOO_LARGE: 'That is more than this server takes at once (2 MB). Nothing was saved.',
  FST_REQ_FILE_TOO_LARGE: 'At most 50 MB for one file. Nothing was saved.',
  FST_FILES_LIMIT: 'At most 20 files at once. Nothing was saved.',
  FST_PARTS_LIMIT: 'This form has more pieces than are taken. Nothing was saved.',
  FST_FIELDS_LIMIT: 'This form has more fields than are taken. Nothing was saved.',
  FST_PROTO_VIOLATION: 'This form has a field whose name is not taken. Nothing was saved.',
  FST_INVALID_MULTIPART_CONTENT_TYPE: 'This is not a form with files. Nothing was saved.',
}

/** A record that is not there, or not this household's. */
export class NotFound extends Error {
  readonly statusCode = 404
  constructor(what = 'There is nothing at this address.') {
    super(what)
  }
}
