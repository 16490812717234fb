/**
 * A page that is asked for again within the same second, with nothing written in between, is sent as it was made. What belongs to one
 * form alone, its token and its `once`, is put in anew each time.
 */
import { randomBytes } from 'node:crypto'
import type { FastifyReply, FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

type Options = {
  /** changes with every row written; null where that cannot be said just now */
  readonly writes: () => string | null
  /** a new `once` for a form */
  readonly newOnce: () => string
}
type Keeping = { readonly key: string; readonly moment: string }

declare module 'fastify' {
  interface FastifyContextConfig {
    /** what its page shows depends on nothing but the address, the person, what is recorded and the clock */
    isKept?: boolean
  }
  interface FastifyRequest {
    /** where a page is about to be kept: under which key, and when it was begun */
    keeping: Keeping | null
    /** what stands for a form's `once` on a page that is about to be kept; empty where it is not */
    oncePlace: string
  }
  interface FastifyReply {
    /** the page as text, kept where it may be, with the form's own words in their places */
    filled(text: string, status: number): string | Buffer
  }
  interface FastifyInstance {
    /** what stands for the form's token on a page that is about to be kept; nobody ever sees it */
    tokenPlace: string
  }
}

export const mostKeptBytes = 4_000_000

export const keptPages = plugin<Options>(async (app, { writes, newOnce }) => {
  const [tokenPlace, oncePlace] = [randomBytes(24).toString('hex'), randomBytes(24).toString('hex')]
  const places = new RegExp(`(${tokenPlace}|${oncePlace})`)
  const pages = new Map<string, readonly Buffer[]>()
  let keptAt = ''
  let bytes = 0

  /** What was kept before this moment is let go of. */
  const open = (): string | null => {
    const written = writes()
    if (written === null) return null
    const moment = `${written} ${Math.floor(app.clock.now().getTime() / 1000)}`
    if (moment !== keptAt) {
      pages.clear()
      bytes = 0
      keptAt = moment
    }
    return moment
  }
  const keep = ({ key, moment }: Keeping, pieces: readonly Buffer[]) => {
    const weight = pieces.reduce((sum, piece) => sum + piece.length, 0)
    // What was written while the page was made may be in it by half.
    if (open() !== moment || bytes + weight > mostKeptBytes) return
    pages.set(key, pieces)
    bytes += weight
  }
  /** Places stand at the odd positions. */
  const fill = (request: FastifyRequest, pieces: readonly Buffer[]): Buffer => {
    const [token, once] = [Buffer.from(request.formToken), Buffer.from(newOnce())]
    return Buffer.concat(pieces.map((piece, n) => (n % 2 === 0 ? piece : piece.toString('latin1') === tokenPlace ? token : once)))
  }

  app.decorate('tokenPlace', tokenPlace)
  app.decorateRequest('keeping', null)
  app.decorateRequest('oncePlace', '')
  app.decorateReply('filled', function (this: FastifyReply, text: string, status: number) {
    const { keeping } = this.request
    if (!keeping) return text
    const pieces = text.split(places).map((piece) => Buffer.from(piece))
    if (status === 200 && !this.hasHeader('set-cookie')) keep(keeping, pieces)
    return fill(this.request, pieces)
  })
  app.addHook('preHandler', async (request, reply) => {
    if (!mayBeKept(request)) return
    const moment = open()
    if (moment === null) return
    const key = keyOf(request)
    const pieces = pages.get(key)
    if (pieces) return reply.header('cache-control', 'no-store').type('text/html; charset=utf-8').send(fill(request, pieces))
    request.keeping = { key, moment }
    request.oncePlace = oncePlace
  })
})

/** Not what a script asks for by itself, nor a form that is shown again with what was typed: that is in no record. */
function mayBeKept(request: FastifyRequest): boolean {
  return (
    request.routeOptions.config.isKept === true &&
    request.method === 'GET' &&
    request.signedIn &&
    request.headers['hx-request'] === undefined &&
    request.url.length < 1000 &&
    (request.query as Record<string, unknown>).kept === undefined
  )
}

/** Who asks, with which role, and for what. */
function keyOf(request: FastifyRequest): string {
  const { householdId, personId, role, name } = request.actor
  return JSON.stringify([householdId, personId, role, name, request.protocol, request.host, request.url])
}
