/** Bodies are taken as they are and in UTF-8: what comes packed, or in other letters, would be read as something else than was sent. */
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

/** RFC 9110, 15.5.16. */
export class BodyNotTaken extends Error {
  readonly statusCode = 415
}

/** The last is a part of the first. */
const READ_HERE = ['utf-8', 'utf8', 'us-ascii']

export const plainBodies = plugin(async (app) => {
  // Only once it is known who asks: a stranger is told that, whatever was sent.
  app.addHook('preParsing', async (request, reply) => {
    if (request.method !== 'POST') return
    if (isPacked(request)) {
      // RFC 9110, 12.5.3: which codings would have been taken.
      reply.header('accept-encoding', 'identity')
      throw new BodyNotTaken('The body is packed (Content-Encoding): send it as it is. Nothing was saved.')
    }
    if (isInOtherLetters(request)) throw new BodyNotTaken('The body is not in UTF-8, by its own word: send it in UTF-8. Nothing was saved.')
  })
})

function isPacked({ headers }: FastifyRequest): boolean {
  const codings = (headers['content-encoding'] ?? '').split(',').map((coding) => coding.trim().toLowerCase())
  return codings.some((coding) => coding !== '' && coding !== 'identity')
}

/** JSON is UTF-8 (RFC 8259, 8.1), and so are the fields of a form (WHATWG URL, 5.1): a type that says otherwise is of another format. */
function isInOtherLetters({ headers }: FastifyRequest): boolean {
  const said = [...(headers['content-type'] ?? '').matchAll(/;\s*charset\s*=\s*"?([^\s;"]*)/gi)]
  return said.some(([, charset = '']) => !READ_HERE.includes(charset.toLowerCase()))
}
