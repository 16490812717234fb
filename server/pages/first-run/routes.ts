import type { FastifyInstance, FastifyRequest } from 'fastify'
import { loadDemo } from '../../records/demo/index.ts'
import { createOwner, isFirstRun, signIn } from '../../records/people.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { cameFrom, cookieFlags, SESSION_COOKIE } from '../../web/session.ts'
import { isFromHere } from '../../web/site.ts'
import { formFaults, refusalFaults } from '../shared/faults.ts'

export function register(app: FastifyInstance): void {
  const needsCode = (request: FastifyRequest) => !isFromHere(request)

  app.get('/first-run', async (request, reply) => {
    if (!isFirstRun(app.db)) throw new NotFound()
    return reply.page('first-run/show', { faults: [], name: '', code: '', needsCode: needsCode(request) }, { title: 'Set up Loombook' })
  })

  app.post('/first-run', async (request, reply) => {
    if (!isFirstRun(app.db)) throw new NotFound()
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200 })
    const password = form.typed('password')
    if (needsCode(request) && form.text('code') !== app.setUpCode) form.fault('code', 'That is not the one-time code in the log.')
    const again = (faults: readonly object[]) =>
      reply.page(
        'first-run/show',
        { faults, name, code: form.typed('code'), needsCode: needsCode(request) },
        { title: 'Set up Loombook', status: 422 },
      )
    if (form.faults.length > 0) return again(formFaults(form.faults))
    const owner = createOwner(app.db, app.clock, { name, password })
    if (!owner.ok) return again(refusalFaults(owner.refusals))
    if (form.typed('start') === 'demonstration') loadDemo(app.db, app.clock, owner.value)
    const signed = await signIn(app.db, app.clock, { name, password, from: cameFrom(request) })
    if (signed.ok && signed.value.state === 'in')
      reply.setCookie(SESSION_COOKIE, signed.value.token, { ...cookieFlags(request), maxAge: 90 * 86_400 })
    return reply.redirect('/', 303)
  })
}
