/** Forms that carry files. Fields become the body like those of any form; files wait in a temporary place, and nothing is kept before the form's token was seen. */
import type { Readable } from 'node:stream'
import fastifyMultipart from '@fastify/multipart'
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'
import { hasToken } from './guard.ts'

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

const MOST = { bytes: 50 * 1024 * 1024, files: 20, fields: 400, fieldName: 100, field_bytes: 100_000 } as const

type Options = { readonly receive: Receive; readonly drop: (file: ReceivedFile) => Promise<void> }

export const multipart = plugin<Options>(async (app, options) => {
  await app.register(fastifyMultipart, {
    limits: {
      fileSize: MOST.bytes,
      files: MOST.files,
      fields: MOST.fields,
      parts: MOST.files + MOST.fields,
      fieldNameSize: MOST.fieldName,
      fieldSize: MOST.field_bytes,
      headerPairs: 100,
    },
    throwFileSizeLimit: false,
  })
  app.decorateRequest('received', null as never)
  app.addHook('onRequest', async (request) => {
    request.received = []
  })
  app.addHook('preValidation', async (request) => {
    if (!request.isMultipart()) return
    try {
      await readForm(request, options)
    } catch (fault) {
      for (const file of request.received) await options.drop(file)
      throw isOfTheForm(fault) ? new Refused(400, 'This form did not arrive whole, or is not well made. Nothing was saved.') : fault
    }
  })
  app.addHook('onResponse', async (request) => {
    for (const file of request.received) await options.drop(file)
  })
})

async function readForm(request: FastifyRequest, { receive, drop }: Options): Promise<void> {
  const body: Record<string, string | string[]> = Object.create(null)
  const received: ReceivedFile[] = []
  request.received = received
  const most_bytes = request.routeOptions.config.fileMost_bytes ?? MOST.bytes
  for await (const part of request.parts({ limits: { fileSize: most_bytes } })) {
    if (part.type === 'field') {
      const value = typeof part.value === 'string' ? part.value : ''
      if (part.fieldnameTruncated || part.valueTruncated)
        throw new Refused(413, 'A field of this form is longer than is taken. Nothing was saved.')
      const before = body[part.fieldname]
      body[part.fieldname] = before === undefined ? value : [...[before].flat(), value]
      continue
    }
    if (!hasToken(request, body._token)) {
      // It came before the token: read past, kept nowhere.
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
