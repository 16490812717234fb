import { createHash, timingSafeEqual } from 'node:crypto'
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { loadDemo } from '../../records/demo/index.ts'
import { createOwner, isFirstRun, signIn } from '../../records/people.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { cameFrom } from '../../web/session.ts'
import { isFromHere } from '../../web/site.ts'
import { takeIn } from '../shared/entered.ts'
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
    if (needsCode(request)) {
      const attempt = { account: 'first run', address: request.ip, device: null }
      const waits_s = app.signInLimits.begin_s(attempt)
      if (waits_s > 0) {
        reply.header('retry-after', String(waits_s))
        form.fault('code', `Too many tries. Wait ${Math.ceil(waits_s / 60)} minutes, or set it up on the machine itself.`)
      } else if (isSame(form.text('code'), app.setUpCode ?? '')) app.signInLimits.succeeded(attempt)
      else form.fault('code', 'That is not the one-time code in the log.')
    }
    const again = (faults: readonly object[]) =>
      reply.page(
        'first-run/show',
        { faults, name, code: form.typed('code'), needsCode: needsCode(request) },
        { title: 'Set up Loombook', status: reply.hasHeader('retry-after') ? 429 : 422 },
      )
    if (form.faults.length > 0) return again(formFaults(form.faults))
    const owner = createOwner(app.db, app.clock, { name, password })
    if (!owner.ok) return again(refusalFaults(owner.refusals))
    if (form.typed('start') === 'demonstration') loadDemo(app.db, app.clock, owner.value)
    const signed = await signIn(app.db, app.clock, { name, password, from: cameFrom(request) })
    if (signed.ok && signed.value.state === 'in') takeIn(reply, signed.value)
    return reply.redirect('/', 303)
  })
}

function isSame(given: string, right: string): boolean {
  const [one, other] = [given, right].map((text) => createHash('sha256').update(text).digest()) as [Buffer, Buffer]
  return right !== '' && timingSafeEqual(one, other)
}
