import { readFile } from 'node:fs/promises'
import type { FastifyInstance } from 'fastify'
import { parseText } from '../../document/parse.ts'
import { importDocument } from '../../records/vehicles.ts'
import { FormReader } from '../../web/form.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { onceId, onceOf } from '../shared/once.ts'
import { todayOf } from '../shared/vehicle-facts.ts'

const IMPORT = { title: 'Take in a vehicle document', section: 'vehicles', trail: [{ href: '/', label: 'Vehicles' }] } as const

const MOST_bytes = 5_000_000

export function register(app: FastifyInstance): void {
  app.get('/vehicles/import', async (_request, reply) =>
    reply.page('import/show', { faults: [], once: onceOf(app, new FormReader({})), text: '' }, IMPORT),
  )

  app.post('/vehicles/import', async (request, reply) => {
    const typed = new FormReader(request.body)
    const [file] = request.received ?? []
    // What stood in the file counts as typed: shown again where it is refused, and another file is another document.
    const inFile = file && file.bytes <= MOST_bytes ? textOf(await readFile(file.path)) : ''
    const form = file ? new FormReader({ ...typed.body, document: inFile ?? '' }) : typed
    const text = form.typed('document')
    const again = (faults: readonly ShownFault[]) =>
      reply.page('import/show', { faults, once: onceOf(app, form), text }, { ...IMPORT, status: 422 })
    if (file && file.bytes > MOST_bytes)
      return again([{ field: 'document', label: 'The file', says: 'A vehicle document has at most 5 MB.', link: '' }])
    if (inFile === null)
      return again([{ field: 'document', label: 'The file', says: 'It is not text in UTF-8, as every vehicle document is.', link: '' }])
    const parsed = parseText(text)
    if (!parsed.ok)
      return again(parsed.faults.map((fault) => ({ field: 'document', label: fault.path || 'The whole', says: fault.says, link: '' })))
    const done = importDocument(
      app.db,
      app.clock,
      request.actor,
      parsed.document,
      parsed.document.asOf ?? todayOf(app),
      onceId(app, request, form),
    )
    return done.ok
      ? reply.redirect(`/vehicles/${done.value.vehicleId}`, 303)
      : again(refusalFaults(done.refusals, { field: () => 'document', label: () => 'Vehicle document' }))
  })
}

function textOf(bytes: Buffer): string | null {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch {
    return null
  }
}
