/** One place for what went wrong: a refusal in plain words, or a fault with its request id. */
import plugin from 'fastify-plugin'

export const errorPages = plugin(async (app) => {
  app.setErrorHandler(async (error: Error & { statusCode?: number; validation?: unknown }, request, reply) => {
    const status = error.statusCode ?? 500
    if (status >= 500) request.log.error(error)
    const says =
      status >= 500
        ? 'Something went wrong on our side. Nothing was saved.'
        : status === 413
          ? 'That is more than this server takes at once (2 MB). Nothing was saved.'
          : error.message
    // A piece asked for by itself is answered as a piece: the page around it, and what was typed there, stays.
    if (request.headers['hx-request'] === 'true') return reply.fragment('error/_piece', { says, id: request.id }, { status })
    return reply.page(
      'error/show',
      { says, id: request.id },
      { title: status === 403 ? 'Not done' : status === 404 ? 'Not found' : 'That did not work', status },
    )
  })
  app.setNotFoundHandler(async (request, reply) =>
    reply.page('error/show', { says: 'There is nothing at this address.', id: request.id }, { title: 'Not found', status: 404 }),
  )
})

/** A record that is not there, or not this household's. */
export class NotFound extends Error {
  readonly statusCode = 404
  constructor(what = 'There is nothing at this address.') {
    super(what)
  }
}
