import type { FastifyInstance } from 'fastify'
import { signIn, signOut } from '../../records/people.ts'
import { FormReader } from '../../web/form.ts'
import { cookieFlags, localPath, SESSION_COOKIE } from '../../web/session.ts'
import { refusalFaults } from '../shared/faults.ts'

export function register(app: FastifyInstance): void {
  app.get('/login', async (request, reply) => {
    if (request.signedIn) return reply.redirect('/', 303)
    const { next } = request.query as Record<string, unknown>
    return reply.page('login/show', { faults: [], next: localPath(next), name: '' }, { title: 'Sign in' })
  })

  app.post('/sessions', async (request, reply) => {
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200 })
    const signed = await signIn(app.db, app.clock, { name, password: form.typed('password') })
    if (!signed.ok)
      return reply.page(
        'login/show',
        { faults: refusalFaults(signed.refusals, { field: () => 'name' }), next: localPath(form.typed('next')), name },
        { title: 'Sign in', status: 422 },
      )
    reply.setCookie(SESSION_COOKIE, signed.value.token, { ...cookieFlags(request), maxAge: 90 * 86_400 })
    return reply.redirect(localPath(form.typed('next')), 303)
  })

  app.post('/sessions/end', async (request, reply) => {
    const token = request.cookies[SESSION_COOKIE]
    if (token) signOut(app.db, token)
    reply.clearCookie(SESSION_COOKIE, { path: '/' })
    return reply.redirect('/login', 303)
  })
}
