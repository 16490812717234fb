/** One line in the log for each answer: who asked for what, what came of it, how long it took. No header but the browser's name, no token, no query. */
import plugin from 'fastify-plugin'
import { loggedAddress } from './logged-address.ts'

/** Asked every few seconds by machines; of no interest unless something is looked for. */
const QUIET = /^\/(static\/|healthz|readyz|metrics)/
const MOST_characters = 200

export const requestLog = plugin(async (app) => {
  app.addHook('onResponse', async (request, reply) => {
    const line = {
      method: request.method,
      url: loggedAddress(request.url),
      status: reply.statusCode,
      took_ms: Math.round(reply.elapsedTime),
      address: request.ip,
      agent: String(request.headers['user-agent'] ?? '').slice(0, MOST_characters),
    }
    if (QUIET.test(request.url)) request.log.debug(line, 'answered')
    else request.log.info(line, 'answered')
  })
})
