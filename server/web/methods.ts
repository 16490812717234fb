/** Three methods are answered: what else is asked, TRACE above all, is told so, whatever the address, and gets nothing back of what was sent. */
import plugin from 'fastify-plugin'

const ANSWERED = ['GET', 'HEAD', 'POST']

export class NoSuchMethod extends Error {
  readonly statusCode = 405
}

export const methods = plugin(async (app) => {
  app.addHook('onRequest', async (request, reply) => {
    if (ANSWERED.includes(request.method)) return
    reply.header('allow', ANSWERED.join(', '))
    throw new NoSuchMethod('This server answers GET, HEAD and POST.')
  })
})
