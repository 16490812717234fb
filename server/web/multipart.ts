/** Forms that carry files. Fields become the body like those of any form; files wait in a temporary place, and nothing is kept before the form's token was seen. */
import type { IncomingMessage } from 'node:http'
import type { Readable } from 'node:stream'
import fastifyMultipart from '@fastify/multipart'
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'
import { beyondRole, hasToken } from './guard.ts'

export type ReceivedFile = {
  readonly field: string
  readonly path: string
  readonly sha256: string
  readonly bytes: number
  readonly fileName: string
}
type Receive = (
  source: Readable,
  given: { readonly fileName: string; readonly most_bytes: number },
) => Promise<
  | { readonly ok: true; readonly value: Omit<ReceivedFile, 'field'> }
  | { readonly ok: false; readonly refusals: readonly { readonly status: number; readonly sentence: string }[] }
>

declare module 'fastify' {
  interface FastifyContextConfig {
    /** where a form may carry larger files than usual */
    fileMost_bytes?: number
  }
  interface FastifyRequest {
    /** files of a form, in a temporary place; whoever keeps one takes it from there before the reply ends */
    received: readonly ReceivedFile[]
  }
}

const MOST = {
  bytes: 50 * 1024 * 1024,
  files: 20,
  fields: 400,
  fieldName: 100,
  field_bytes: 100_000,
  readPast_bytes: 256 * 1024 * 1024,
} as const

type Options = { readonly receive: Receive; readonly drop: (file: ReceivedFile) => Promise<void> }

export const multipart = plugin<Options>(async (app, options) => {
  // Pages take forms and nothing else: what the framework reads besides has shapes that no form can have.
  app.removeContentTypeParser(['application/json', 'text/plain'])
  await app.register(fastifyMultipart, {
    limits: {
      fileSize: MOST.bytes,
      files: MOST.files,
      fields: MOST.fields,
      parts: MOST.files + MOST.fields,
      fieldSize: MOST.field_bytes,
      headerPairs: 100,
    },
    throwFileSizeLimit: false,
  })
  app.decorateRequest('received', null as never)
  app.addHook('onRequest', async (request) => {
    request.received = []
  })
  app.addHook('preValidation', async (request, reply) => {
    if (!request.isMultipart()) return
    try {
      await readForm(request, options)
    } catch (fault) {
      for (const file of request.received) await options.drop(file)
      await readPast(request.raw)
      reply.header('connection', 'close')
      throw isOfTheForm(fault) ? new Refused(400, 'This form did not arrive whole, or is not well made. Nothing was saved.') : fault
    }
  })
  // Before the answer and not after it: whoever has hung up gets none, and what was sent goes all the same.
  app.addHook('onSend', async (request) => {
    // Null where the answer was given before the form was looked at: to who is signed out.
    for (const file of request.received ?? []) await options.drop(file)
  })
})

async function readForm(request: FastifyRequest, { receive, drop }: Options): Promise<void> {
  const body: Record<string, string | string[]> = Object.create(null)
  const received: ReceivedFile[] = []
  request.received = received
  const most_bytes = request.routeOptions.config.fileMost_bytes ?? MOST.bytes
  for await (const part of request.parts({ limits: { fileSize: most_bytes } })) {
    if (!part.fieldname) throw new Refused(400, 'A part of this form has no name. Nothing was saved.')
    // The parser cuts values and says so; a name it passes on in full, or cut without a word.
    if (part.fieldname.length > MOST.fieldName || (part.type === 'field' && part.valueTruncated))
      throw new Refused(413, 'A field of this form is longer than is taken. Nothing was saved.')
    if (part.type === 'field') {
      const value = typeof part.value === 'string' ? part.value : ''
      const before = body[part.fieldname]
      body[part.fieldname] = before === undefined ? value : [...[before].flat(), value]
      continue
    }
    if (!request.signedIn || !hasToken(request, body._token) || beyondRole(request) !== null) {
      // From a stranger, a viewer, or before the token: read past, kept nowhere.
      part.file.resume()
      continue
    }
    const kept = await receive(part.file, { fileName: part.filename ?? '', most_bytes })
    if (!kept.ok) throw new Refused(kept.refusals[0]?.status ?? 422, kept.refusals[0]?.sentence ?? 'This file is not taken.')
    const file = { ...kept.value, field: part.fieldname }
    // Browsers send an empty part where no file was chosen.
    if (file.bytes === 0 && file.fileName === '') await drop(file)
    else received.push(file)
  }
  request.body = body
}

/** An answer is heard by who has sent all; so what is still to come is read, up to a bound, and kept nowhere. */
function readPast(raw: IncomingMessage): Promise<void> {
  return new Promise((resolve) => {
    let bytes = 0
    if (raw.readableEnded || raw.destroyed) return resolve()
    for (const ending of ['end', 'close', 'error']) raw.once(ending, () => resolve())
    raw.unpipe()
    raw.on('data', (chunk: Buffer) => {
      bytes += chunk.length
      if (bytes > MOST.readPast_bytes) resolve()
    })
    raw.resume()
  })
}

/** What the parser says of a form, not what the disk says or what was refused in words. */
function isOfTheForm(fault: unknown): boolean {
  const { statusCode, code } = fault as { statusCode?: number; code?: string }
  return statusCode === undefined && !/^E[A-Z]+$/.test(code ?? '')
}

class Refused extends Error {
  readonly statusCode: number
  constructor(statusCode: number, message: string) {
    super(message)
    this.statusCode = statusCode
  }
}
